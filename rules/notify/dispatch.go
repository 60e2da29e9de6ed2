package notify

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"
)

// ErrPermanent is wrapped by failures that another attempt would not mend.
var ErrPermanent = errors.New("not tried again")

// ErrNotDelivered is wrapped by [Dispatcher.Close] when messages were left.
var ErrNotDelivered = errors.New("messages were not delivered")

// Options sets a dispatcher's bounds. A zero field takes its default.
type Options struct {
	Queue     int           // messages waiting for one notifier: 256
	Attempt   time.Duration // longest attempt: 5 s
	FirstWait time.Duration // pause after the first failure, doubled after each: 250 ms
	LongWait  time.Duration // longest pause: 30 s
	GiveUp    time.Duration // no new attempt this long after the first: 10 min
}

func (o Options) withDefaults() Options {
	if o.Queue <= 0 {
		o.Queue = 256
	}
	for _, d := range []struct {
		field    *time.Duration
		fallback time.Duration
	}{{&o.Attempt, 5 * time.Second}, {&o.FirstWait, 250 * time.Millisecond}, {&o.LongWait, 30 * time.Second}, {&o.GiveUp, 10 * time.Minute}} {
		if *d.field <= 0 {
			*d.field = d.fallback
		}
	}
	return o
}

// Stat tells how a notifier fares.
type Stat struct {
	Name    string
	Queued  int    // waiting, the one under way included
	Sent    uint64 // delivered
	Failed  uint64 // given up
	Dropped uint64 // pushed out of a full queue
	Retries uint64 // attempts after the first
	Problem string // of the newest failed attempt; empty once one succeeds
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
		l := &lane{to: n, o: o.withDefaults(), wake: make(chan struct{}, 1)}
		d.lanes = append(d.lanes, l)
		d.done.Go(func() { l.run(ctx) })
	}
	return d
}

// Send queues a message for every notifier and returns at once. After Close it
// does nothing.
func (d *Dispatcher) Send(m Message) {
	for _, l := range d.lanes {
		l.put(m)
	}
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
// without further pauses. Closing twice is harmless.
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
	return d.undelivered()
}

func (d *Dispatcher) undelivered() error {
	var errs []error
	for _, s := range d.Stats() {
		if s.Queued > 0 {
			errs = append(errs, fmt.Errorf("%w: %d to %s: %s", ErrNotDelivered, s.Queued, s.Name, s.Problem))
		}
	}
	return errors.Join(errs...)
}

// lane is the queue of one notifier.
type lane struct {
	to   Notifier
	o    Options
	wake chan struct{} // something changed: a message came, or the lane closed

	mu     sync.Mutex
	queue  []Message
	closed bool
	stat   Stat
}

func (l *lane) put(m Message) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.closed {
		return
	}
	if len(l.queue) >= l.o.Queue {
		l.queue = append(l.queue[:0], l.queue[1:]...)
		l.stat.Dropped++
	}
	l.queue = append(l.queue, m)
	l.nudge()
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
	s.Name = l.to.Name()
	s.Queued += len(l.queue)
	return s
}

// run delivers in order until the lane is closed and empty, or ctx is done. A
// notifier that can be closed is closed then.
func (l *lane) run(ctx context.Context) {
	if c, ok := l.to.(io.Closer); ok {
		defer c.Close()
	}
	for ctx.Err() == nil {
		m, ok := l.take()
		if ok {
			l.deliver(ctx, m)
			continue
		}
		if l.isClosed() {
			return
		}
		select {
		case <-l.wake:
		case <-ctx.Done():
		}
	}
}

// take moves the oldest message from the queue to being under way.
func (l *lane) take() (Message, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.queue) == 0 {
		return Message{}, false
	}
	m := l.queue[0]
	l.queue[0] = Message{}
	l.queue = l.queue[1:]
	l.stat.Queued = 1
	return m, true
}

func (l *lane) deliver(ctx context.Context, m Message) {
	began, wait := time.Now(), l.o.FirstWait
	for {
		err := l.attempt(ctx, m)
		last := l.isClosed() || time.Since(began)+wait > l.o.GiveUp || errors.Is(err, ErrPermanent)
		if l.settle(ctx, err, last) {
			return
		}
		l.pause(ctx, max(wait, asked(err, l.o.LongWait)))
		wait = min(2*wait, l.o.LongWait)
	}
}

func (l *lane) attempt(ctx context.Context, m Message) error {
	ctx, cancel := context.WithTimeout(ctx, l.o.Attempt)
	defer cancel()
	return l.to.Notify(ctx, m)
}

// settle counts an attempt and reports whether the message is done with. One
// that was under way when everything was cancelled stays queued, to be counted
// as left over.
func (l *lane) settle(ctx context.Context, err error, last bool) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if err == nil {
		l.stat.Sent, l.stat.Queued, l.stat.Problem = l.stat.Sent+1, 0, ""
		return true
	}
	l.stat.Problem = err.Error()
	if ctx.Err() != nil {
		return true
	}
	if last {
		l.stat.Failed, l.stat.Queued = l.stat.Failed+1, 0
		return true
	}
	l.stat.Retries++
	return false
}

// pause waits before the next attempt; closing cuts it short.
func (l *lane) pause(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	for !l.isClosed() {
		select {
		case <-t.C:
			return
		case <-ctx.Done():
			return
		case <-l.wake:
		}
	}
}

func asked(err error, most time.Duration) time.Duration {
	var r *RetryError
	if errors.As(err, &r) {
		return min(r.After, most)
	}
	return 0
}
