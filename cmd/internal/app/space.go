package app

import (
	"context"
	"maps"
	"sync"
	"time"

	"steadyrail/capture/store"
	"steadyrail/dashboards/metrics"
)

// How the room on the disk is watched.
const (
	spaceEvery  = time.Minute
	spaceWindow = 6 * time.Hour    // over which the rate of growth is taken
	spaceLeast  = 15 * time.Minute // a rate over less says more about the start than about the bench
)

// When a person is told that room is scarce, and when again.
const (
	scarceTime  = 7 * 24 * time.Hour
	scarceBytes = 1_000_000_000
	worse       = 10   // again when so many times less is left
	nothing     = 1e-4 // below this share of enough it makes no difference any more
	plenty      = 2    // told anew, should it become scarce again, after there was so many times more than enough
)

// spaceWatch reckons how fast the record grows and for how long the disk takes
// it. It is safe for concurrent use; times are the computer's, not the bench's:
// the disk fills in those. Nothing is ever deleted here.
type spaceWatch struct {
	mu      sync.Mutex
	free    int64            // bytes; below 0: not known
	sizes   map[string]int64 // of the open jobs' files, when last looked at
	total   int64            // bytes that they have grown since the daemon started
	samples []spaceSample    // of the window, oldest first
	told    float64          // how much of enough there was when it was told; 0: not told
}

type spaceSample struct {
	at    time.Time
	total int64
}

func newSpaceWatch() *spaceWatch { return &spaceWatch{free: -1, sizes: map[string]int64{}} }

// look takes the present figures and returns what a person must be told; "" for
// nothing. A job that was not there before counts from now on, and a file that
// became smaller, as that of a closed job does, gives nothing back.
func (w *spaceWatch) look(now time.Time, free int64, sizes map[string]int64) string {
	w.mu.Lock()
	defer w.mu.Unlock()
	for id, size := range sizes {
		if before, known := w.sizes[id]; known {
			w.total += max(0, size-before)
		}
	}
	w.sizes, w.free = maps.Clone(sizes), free
	w.samples = append(w.samples, spaceSample{now, w.total})
	for len(w.samples) > 1 && now.Sub(w.samples[1].at) >= spaceWindow {
		w.samples = w.samples[1:]
	}
	return w.warning()
}

// room returns the room and the rate of the window.
func (w *spaceWatch) room() store.Room {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.roomLocked()
}

func (w *spaceWatch) roomLocked() store.Room {
	r := store.Room{Free: w.free, Rate: -1}
	if len(w.samples) == 0 {
		return r
	}
	first, last := w.samples[0], w.samples[len(w.samples)-1]
	if span := last.at.Sub(first.at); span >= spaceLeast {
		r.Rate = float64(last.total-first.total) / span.Seconds()
	}
	return r
}

// warning says, when room is scarce, what there is.
func (w *spaceWatch) warning() string {
	if w.free < 0 {
		return ""
	}
	r := w.roomLocked()
	enough := max(share(r), nothing)
	switch {
	case enough >= plenty:
		w.told = 0
		return ""
	case enough >= 1 || w.told > 0 && enough > w.told/worse:
		return ""
	}
	w.told = enough
	return r.String()
}

// share is how much of enough there is: below 1 it is scarce.
func share(r store.Room) float64 {
	s := float64(r.Free) / scarceBytes
	if left, ok := r.Left(); ok {
		s = min(s, left.Hours()/scarceTime.Hours())
	}
	return s
}

// startSpace watches the disk of the workspace until it is stopped.
func (a *App) startSpace(context.Context) (func(context.Context) error, error) {
	return background(func(ctx context.Context) error {
		t := time.NewTicker(spaceEvery)
		defer t.Stop()
		for {
			a.lookAtSpace(ctx)
			select {
			case <-t.C:
			case <-ctx.Done():
				return nil
			}
		}
	}), nil
}

func (a *App) lookAtSpace(ctx context.Context) {
	free, err := store.FreeSpace(a.workspace.Dir())
	if err != nil {
		free = -1
	}
	now := time.Now()
	if say := a.space.look(now, free, a.jobSizes(ctx)); say != "" {
		a.log.Warn().Str("workspace", a.workspace.Dir()).Msg("the disk of the record is nearly full: " + say)
		a.table.Notice("At " + now.Format("15:04") + " the disk of the record was nearly full: " + say + ". Nothing is deleted by itself: make room, or have closed jobs elsewhere: steadyrail backup")
	}
}

// jobSizes returns the sizes of the open jobs' files. One that is just being
// closed is left out.
func (a *App) jobSizes(ctx context.Context) map[string]int64 {
	a.mu.Lock()
	files := make(map[string]*store.Job, len(a.jobs))
	for id, j := range a.jobs {
		files[id] = j.file
	}
	a.mu.Unlock()
	sizes := map[string]int64{}
	for id, f := range files {
		if size, err := f.Size(ctx); err == nil {
			sizes[id] = size
		}
	}
	return sizes
}

// spaceStat is the room for the metrics page.
func (a *App) spaceStat() metrics.SpaceStat {
	r := a.space.room()
	return metrics.SpaceStat{Free: r.Free, Rate: r.Rate}
}
