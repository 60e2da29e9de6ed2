package notify

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"time"

	"steadyrail/capture"
)

// ErrPermanent is wrapped by failures that another attempt would not mend.
var ErrPermanent = errors.New("not tried again")

// ErrNotDelivered is wrapped by [Dispatcher.Close] when messages were left.
var ErrNotDelivered = errors.New("messages were not delivered")

// ErrUnknown is returned by [Dispatcher.Test] for a name that no notifier has.
var ErrUnknown = errors.New("no such notifier")

// ErrClosed is returned by [Dispatcher.Test] after Close.
var ErrClosed = errors.New("the dispatcher is closed")

// Options sets a dispatcher's bounds. A zero field takes its default.
type Options struct {
	Queue       int           // messages waiting for one notifier: 256
	Attempt     time.Duration // longest attempt: 5 s; a notifier's own time-out, when that is longer
	FirstWait   time.Duration // pause after the first failure, doubled after each: 250 ms
	LongWait    time.Duration // longest pause: 30 s
	GiveUp      time.Duration // no new attempt this long after the first: 10 min
	GroupAfter  int           // messages told one by one in a window, the rest are told as one: 5
	GroupWithin time.Duration // length of that window: 10 s
	// Jitter varies a pause, so that many benches do not ask in step; nil: by
	// chance down to three quarters.
	Jitter func(time.Duration) time.Duration
}

func (o Options) withDefaults() Options {
	if o.Queue <= 0 {
		o.Queue = 256
	}
	if o.GroupAfter <= 0 {
		o.GroupAfter = 5
	}
	if o.Jitter == nil {
		o.Jitter = func(d time.Duration) time.Duration { return d - rand.N(d/4+1) }
	}
	for _, d := range []struct {
		field    *time.Duration
		fallback time.Duration
	}{
		{&o.Attempt, 5 * time.Second}, {&o.FirstWait, 250 * time.Millisecond}, {&o.LongWait, 30 * time.Second},
		{&o.GiveUp, 10 * time.Minute}, {&o.GroupWithin, 10 * time.Second},
	} {
		if *d.field <= 0 {
			*d.field = d.fallback
		}
	}
	return o
}

// Stat tells how a notifier fares.
type Stat struct {
	Name    string
	Kind    string // of the table; empty when it did not come from a configuration
	Queued  int    // waiting, the one under way included
	Sent    uint64 // delivered
	Tests   uint64 // tests that arrived; they are not in Sent
	Failed  uint64 // given up
	Dropped uint64 // pushed out of a full queue
	Urgent  uint64 // of those given up or pushed out, the urgent ones
	Retries uint64 // attempts after the first
	Problem string // of the newest failed attempt; empty once one succeeds
	// FailingSince is when the newest attempts began to fail, wall time; zero
	// while they do not.
	FailingSince time.Time
	Tried        bool // there was an attempt: whether it works is known
}

// Dispatcher hands messages to notifiers. All methods are safe for concurrent
// use. Make it with [New]; end it with [Dispatcher.Close].
type Dispatcher struct {
	lanes  []*lane
	cancel context.CancelFunc
	done   sync.WaitGroup
}

// New starts a goroutine for each notifier.
func New(o Options, notifiers ...Notifier) *Dispatcher {
	ctx, cancel := context.WithCancel(context.Background())
	d := &Dispatcher{cancel: cancel}
	for _, n := range notifiers {
		l := newLane(o.withDefaults(), n)
		d.lanes = append(d.lanes, l)
		d.done.Go(func() { l.run(ctx) })
	}
	return d
}

// Send queues a message for every notifier that wants it and returns at once.
// It takes every transition: what people are told of is decided here ([Tells]),
// a [Follower] decides for itself. After Close it does nothing.
func (d *Dispatcher) Send(m Message) {
	for _, l := range d.lanes {
		if l.wants(m.Alarm) {
			l.put(m)
		}
	}
}

// Test makes one attempt to deliver a message to the notifier of that name,
// past its queue, and returns how long it took in wall time and what came back.
// It waits for an attempt that is under way, no longer than ctx.
func (d *Dispatcher) Test(ctx context.Context, name string, m Message) (time.Duration, error) {
	m.Test = true
	for _, l := range d.lanes {
		if l.to.Name() == name {
			return l.test(ctx, m)
		}
	}
	return 0, fmt.Errorf("%w: %q", ErrUnknown, name)
}

// Stats returns how each notifier fares, in the order given to New.
func (d *Dispatcher) Stats() []Stat {
	var out []Stat
	for _, l := range d.lanes {
		out = append(out, l.stats())
	}
	return out
}

// Close takes no more messages, goes on delivering what is queued until ctx is
// done, and ends the goroutines. Each lane makes its last attempt at once,
// without further pauses; what failed then, and what was never tried, is in the
// error with the newest cause of each notifier. Closing twice is harmless.
func (d *Dispatcher) Close(ctx context.Context) error {
	for _, l := range d.lanes {
		l.close()
	}
	ended := make(chan struct{})
	go func() { d.done.Wait(); close(ended) }()
	select {
	case <-ended:
	case <-ctx.Done():
	}
	d.cancel()
	<-ended
	var errs []error
	for _, l := range d.lanes {
		errs = append(errs, l.undelivered())
	}
	return errors.Join(errs...)
}

// Follower is a [Notifier] that keeps a picture of all alarms: it gets every
// transition that it wants, one by one, also those that people are not told of.
type Follower interface {
	Wants(t capture.Transition) bool
}

// Refresher is a [Notifier] that must say again what still holds. Refresh is
// called by the goroutine that calls Notify, each time that Every has passed
// and no message waits.
type Refresher interface {
	Every() time.Duration
	Refresh(ctx context.Context) error
}

// bounded is a [Notifier] whose attempts may take longer than others'.
type bounded interface{ Bound() time.Duration }
