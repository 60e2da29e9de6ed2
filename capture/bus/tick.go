package bus

import (
	"context"
	"time"

	"steadyrail/capture"
)

const (
	// batch is how many ticks Run hands out before it lets others in: five
	// minutes of the bench.
	batch = 3000 * grid
	// breath is the shortest pause of Run in wall time. A simulated bench may
	// run a thousand times faster than the wall; a wake-up for each of its
	// ticks would be ten thousand a second.
	breath = 5 * time.Millisecond
)

// Run hands out the ticks while nothing else happens, until ctx is done. One
// Run per bus; it is what makes silence heard. After a standstill it catches up
// in batches, and readings may come between them.
func (b *Bus) Run(ctx context.Context) {
	for ctx.Err() == nil {
		woke := time.Now()
		next := b.catchUp(ctx)
		if !b.rest(ctx, next) {
			return
		}
		if short := breath - time.Since(woke); short > 0 && !pause(ctx, short) {
			return
		}
	}
}

// catchUp hands out what is due and returns the next point of the grid.
func (b *Bus) catchUp(ctx context.Context) capture.Instant {
	for {
		next, more := b.tickBatch()
		if !more || ctx.Err() != nil {
			return next
		}
	}
}

func (b *Bus) tickBatch() (next capture.Instant, more bool) {
	b.lock()
	defer b.unlock()
	now := b.clock.Now()
	upto := min(now, b.ticked+batch)
	b.tick(upto)
	return (b.ticked/grid + 1) * grid, upto < now
}

// rest waits for an instant of the bench's clock.
func (b *Bus) rest(ctx context.Context, until capture.Instant) bool {
	due, stop := b.clock.After(until.Sub(b.clock.Now()))
	defer stop()
	select {
	case <-due:
		return true
	case <-ctx.Done():
		return false
	}
}

func pause(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}

// tick hands out every tick up to an instant that has not been.
func (b *Bus) tick(upto capture.Instant) {
	for _, j := range b.open {
		b.tickBehind(j)
	}
	if upto <= b.ticked {
		return
	}
	capture.Ticks(b.ticked, upto, func(at capture.Instant) bool {
		b.last = at
		for _, a := range b.sinks {
			b.tickTo(a, at)
		}
		return true
	})
	b.ticked = upto
}

func (b *Bus) tickTo(a *attached, at capture.Instant) {
	switch {
	case a.job == nil:
		a.sink.Consume(capture.Record{At: at, Item: capture.Tick{}})
	case a.job.isOpen:
		a.sink.Consume(capture.Record{At: at, Job: a.job.name, Item: capture.Tick{}})
	}
}

// tickBehind hands a job that was continued the ticks that lie between its
// last stored record and the present: a replay of its file makes them too.
func (b *Bus) tickBehind(j *job) {
	if j.behind == 0 {
		return
	}
	from := j.behind
	j.behind = 0
	var its []*attached
	for _, a := range b.sinks {
		if a.job == j {
			its = append(its, a)
		}
	}
	capture.Ticks(from, b.ticked, func(at capture.Instant) bool {
		for _, a := range its {
			b.tickTo(a, at)
		}
		return len(its) > 0
	})
}
