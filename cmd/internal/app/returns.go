package app

import (
	"context"
	"sync"

	"steadyrail/capture"
)

// returns keeps what was worked out of a set's last job: its file is closed and
// says the same for ever. It is safe for concurrent use.
type returns struct {
	mu   sync.Mutex
	left map[string]capture.Dossier // by job
	now  map[string]compared        // by job
	busy map[string]chan struct{}   // by job: closed when its comparison is worked out
}

// compared is a comparison that holds as long as the record has not gone on in
// the stages that it looks at.
type compared struct {
	at  capture.Instant // newest record that it saw
	out *capture.Return
}

// alone waits until nobody else works out the comparison of a job, which may read
// files for seconds; those of other jobs are in nobody's way.
func (r *returns) alone(ctx context.Context, id string) (end func(), err error) {
	for {
		r.mu.Lock()
		other := r.busy[id]
		if other == nil {
			break
		}
		r.mu.Unlock()
		select {
		case <-other:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	defer r.mu.Unlock()
	if r.busy == nil {
		r.busy = map[string]chan struct{}{}
	}
	mine := make(chan struct{})
	r.busy[id] = mine
	return func() {
		r.mu.Lock()
		defer r.mu.Unlock()
		delete(r.busy, id)
		close(mine)
	}, nil
}

// known is what was worked out before of a job, and of how its set left another.
func (r *returns) known(id, before string) (compared, capture.Dossier, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	left, ok := r.left[before]
	return r.now[id], left, ok
}

func (r *returns) keep(id, before string, left capture.Dossier, now compared) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.left == nil {
		r.left, r.now = map[string]capture.Dossier{}, map[string]compared{}
	}
	r.left[before], r.now[id] = left, now
}

// forget lets go of a job that is closed, and of the one before it unless another
// open job is compared with that.
func (r *returns) forget(id string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	was := r.now[id]
	delete(r.now, id)
	if was.out == nil {
		return
	}
	for _, c := range r.now {
		if c.out.Job == was.out.Job {
			return
		}
	}
	delete(r.left, was.out.Job)
}
