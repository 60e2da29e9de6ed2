package notify

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"sync"
	"time"

	"steadyrail/capture"
)

// lane is the queue of one notifier and the goroutine that serves it.
type lane struct {
	to     Notifier
	kind   string
	least  capture.Severity
	o      Options
	follow Follower // nil: it is told what people are told
	again  Refresher
	wake   chan struct{} // something changed: a message came, or the lane closed
	tests  chan tryout
	ended  chan struct{} // closed when run has returned

	storm storm // of run's goroutine

	mu      sync.Mutex
	queue   []Message
	closed  bool
	stat    Stat
	lost    Loss  // since the last delivery
	left    int   // given up after closing
	leftErr error // cause of the newest of them
	newest  error // of the newest attempt; nil when it succeeded
}

func newLane(o Options, n Notifier) *lane {
	l := &lane{to: n, o: o, wake: make(chan struct{}, 1), tests: make(chan tryout), ended: make(chan struct{})}
	if c, ok := n.(*chosen); ok {
		l.to, l.kind, l.least = c.Notifier, c.kind, c.least
		l.o.GroupAfter, l.o.GroupWithin = or(c.groupAfter, o.GroupAfter), or(c.groupWithin, o.GroupWithin)
	}
	if b, ok := l.to.(bounded); ok {
		l.o.Attempt = max(l.o.Attempt, b.Bound())
	}
	l.follow, _ = l.to.(Follower)
	l.again, _ = l.to.(Refresher)
	l.storm = storm{after: l.o.GroupAfter, within: l.o.GroupWithin}
	return l
}

func or[T comparable](v, fallback T) T {
	var zero T
	if v == zero {
		return fallback
	}
	return v
}

func (l *lane) wants(t capture.Transition) bool {
	if t.Severity < l.least {
		return false
	}
	if l.follow != nil {
		return l.follow.Wants(t)
	}
	return Tells(t)
}

// put queues a message. A full queue loses its oldest message that is not
// urgent; an urgent one only when it holds nothing else. Either is counted and
// told with the next message that arrives.
func (l *lane) put(m Message) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.closed {
		return
	}
	if len(l.queue) >= l.o.Queue {
		at := max(0, slices.IndexFunc(l.queue, func(q Message) bool { return q.Alarm.Severity < capture.Urgent }))
		l.lose(l.queue[at])
		l.stat.Dropped++
		l.queue = slices.Delete(l.queue, at, at+1)
	}
	l.queue = append(l.queue, m)
	l.nudge()
}

// lose counts a message, and what was grouped in it, that nobody will get.
func (l *lane) lose(m Message) {
	for _, one := range m.each() {
		l.lost.N++
		if one.Alarm.Severity == capture.Urgent {
			l.lost.Urgent++
			l.stat.Urgent++
		}
	}
}

func (l *lane) nudge() {
	select {
	case l.wake <- struct{}{}:
	default:
	}
}

func (l *lane) close() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.closed = true
	l.nudge()
}

func (l *lane) isClosed() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.closed
}

func (l *lane) stats() Stat {
	l.mu.Lock()
	defer l.mu.Unlock()
	s := l.stat
	s.Name, s.Kind = l.to.Name(), l.kind
	s.Queued += len(l.queue)
	return s
}

// undelivered returns what Close reports of this lane; nil: nothing was left.
func (l *lane) undelivered() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	n, cause := l.stat.Queued+len(l.queue)+l.left, l.leftErr
	switch {
	case n == 0:
		return nil
	case cause == nil:
		cause = l.newest
	}
	if cause == nil {
		return fmt.Errorf("%w: %d to %s: there was no time for them", ErrNotDelivered, n, l.to.Name())
	}
	return fmt.Errorf("%w: %d to %s: %w", ErrNotDelivered, n, l.to.Name(), cause)
}

// run delivers in order until the lane is closed and empty, or ctx is done. A
// notifier that can be closed is closed then.
func (l *lane) run(ctx context.Context) {
	defer close(l.ended)
	if c, ok := l.to.(io.Closer); ok {
		defer c.Close()
	}
	var due <-chan time.Time
	var t *time.Timer
	if l.again != nil && l.again.Every() > 0 {
		t = time.NewTimer(l.again.Every())
		defer t.Stop()
		due = t.C
	}
	for ctx.Err() == nil {
		m, hold, ok := l.take()
		if ok {
			l.deliver(ctx, m)
			continue
		}
		if l.isClosed() {
			return
		}
		if l.idle(ctx, hold, due) {
			t.Reset(l.refresh(ctx))
		}
	}
}

// idle waits until there may be something to do, hold at most when that is not
// 0. It reports whether a refresh is due.
func (l *lane) idle(ctx context.Context, hold time.Duration, due <-chan time.Time) bool {
	var over <-chan time.Time
	if hold > 0 {
		t := time.NewTimer(hold)
		defer t.Stop()
		over = t.C
	}
	select {
	case <-l.wake:
	case <-over:
	case <-ctx.Done():
	case try := <-l.tests:
		l.try(ctx, try)
	case <-due:
		return true
	}
	return false
}

// refresh lets the notifier say again what holds, and returns when the next
// time is.
func (l *lane) refresh(ctx context.Context) time.Duration {
	within, cancel := context.WithTimeout(ctx, l.o.Attempt)
	defer cancel()
	err := l.again.Refresh(within)
	if ctx.Err() != nil {
		return l.again.Every()
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.note(err)
	if err != nil {
		return min(l.again.Every(), l.o.LongWait)
	}
	return l.again.Every()
}

// note keeps how the newest attempt ended; l.mu is held.
func (l *lane) note(err error) {
	l.stat.Tried, l.newest = true, err
	if err == nil {
		l.stat.Problem, l.stat.FailingSince = "", time.Time{}
		return
	}
	l.stat.Problem = err.Error()
	if l.stat.FailingSince.IsZero() {
		l.stat.FailingSince = time.Now()
	}
}

// asked is how long a receiver wants to be left alone.
func asked(err error, most time.Duration) time.Duration {
	var r *RetryError
	if errors.As(err, &r) {
		return min(r.After, most)
	}
	return 0
}
