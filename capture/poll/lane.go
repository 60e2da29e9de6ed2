package poll

import (
	"context"
	"fmt"
	"time"

	"steadyrail/capture"
)

// request is something that somebody asks of the loop's goroutine.
type request struct {
	instrument string
	asker      context.Context
	do         func(ctx context.Context)
	done       chan struct{}
	withdrawn  bool
}

// ask has f done between two exchanges. If ctx ends before f was begun, f never
// is, and the error wraps ErrWithdrawn. Once begun, f is carried out.
func (l *Loop) ask(ctx context.Context, instrument string, f func(ctx context.Context)) error {
	return l.askOn(ctx, l.lane, instrument, f)
}

// askOn is ask by one of the two lanes.
func (l *Loop) askOn(ctx context.Context, lane chan<- *request, instrument string, f func(ctx context.Context)) error {
	l.await(instrument, 1)
	r := &request{instrument: instrument, asker: ctx, do: f, done: make(chan struct{})}
	select {
	case lane <- r:
		<-r.done
		if !r.withdrawn {
			return nil
		}
	case <-ctx.Done():
		l.await(instrument, -1)
	case <-l.stopped:
		l.await(instrument, -1)
		return fmt.Errorf("%s: %w", l.link, ErrStopped)
	}
	return fmt.Errorf("%w: %w", ErrWithdrawn, ctx.Err())
}

// await notes that somebody waits for an instrument, and breaks off an attempt
// to connect to another one.
func (l *Loop) await(instrument string, n int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.waiting[instrument] += n
	if n > 0 && l.interrupt != nil && l.connecting != instrument {
		l.interrupt()
	}
}

// serveLane does everything that is being asked for now.
func (l *Loop) serveLane(ctx context.Context) {
	for {
		select {
		case r := <-l.urgent:
			l.serve(ctx, r)
			continue
		default:
		}
		select {
		case r := <-l.lane:
			l.serve(ctx, r)
		default:
			return
		}
	}
}

func (l *Loop) serve(ctx context.Context, r *request) {
	defer close(r.done)
	l.await(r.instrument, -1)
	if r.asker.Err() != nil { // both were ready, and the lane was drawn
		r.withdrawn = true
		return
	}
	// A client that goes away in the middle, or a daemon that stops, must not
	// leave half an act behind.
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), l.opts.ConnectDeadline)
	defer cancel()
	r.do(ctx)
}

// Do has an instrument do something and returns its sentence. It waits for the
// exchange under way and no longer. When ctx ends before that, nothing is sent
// and the error wraps [ErrWithdrawn]; when the instrument is away it wraps
// [ErrDown]. Not every other error means that nothing happened: an answer may
// have been lost.
func (l *Loop) Do(ctx context.Context, instrument string, act capture.Act) (string, error) {
	return l.doOn(ctx, l.lane, instrument, act)
}

// DoFirst is Do for a trip: it goes before everything that people asked for and
// that was not begun.
func (l *Loop) DoFirst(ctx context.Context, instrument string, act capture.Act) (string, error) {
	return l.doOn(ctx, l.urgent, instrument, act)
}

func (l *Loop) doOn(ctx context.Context, lane chan<- *request, instrument string, act capture.Act) (string, error) {
	u := l.unit(instrument)
	if u == nil {
		return "", fmt.Errorf("%s of %s: %w %s", act.Verb, instrument, ErrUnknown, l.link)
	}
	var sentence string
	var failed error
	asked := time.Now()
	err := l.askOn(ctx, lane, instrument, func(ctx context.Context) {
		if !u.up {
			failed = ErrDown
			return
		}
		sentence, failed = u.in.Do(ctx, act)
		delay := time.Since(asked)
		l.setState(u, func(s *State) { s.LastAct, s.WorstAct = delay, max(s.WorstAct, delay) })
		l.afterAsking(u, failed)
	})
	if err == nil {
		err = failed
	}
	if err != nil {
		return "", fmt.Errorf("%s of %s: %w", act.Verb, instrument, err)
	}
	return sentence, nil
}

// afterAsking gives an instrument up whose link turned out to be gone. Errors
// that are not classified, such as a refusal, say nothing about the link.
func (l *Loop) afterAsking(u *unit, err error) {
	if err == nil || l.opts.Classify == nil {
		return
	}
	if f := l.opts.Classify(err); f.Has(capture.Disconnected | capture.Mismatch) {
		l.lose(u, nil, f, err)
	}
}

// Select makes a channel the polled one of its shared input. It returns when
// the instrument is set. If the instrument refuses, the old choice stands. If
// it is away, the choice is kept and made as soon as it is back. A channel with
// an input of its own needs no selecting.
func (l *Loop) Select(ctx context.Context, ch capture.ChannelID) error {
	c := l.channel(ch)
	if c == nil {
		return fmt.Errorf("select %s: %w %s", ch, ErrUnknown, l.link)
	}
	if c.group == nil {
		return nil
	}
	var failed error
	err := l.ask(ctx, c.unit.name, func(ctx context.Context) { failed = l.choose(ctx, c) })
	if err != nil {
		return fmt.Errorf("select %s: %w", ch, err)
	}
	return failed
}

func (l *Loop) choose(ctx context.Context, c *channel) error {
	if c.unit.up && c.group.configured != c.info.ID {
		if err := l.configure(ctx, c); err != nil {
			l.afterAsking(c.unit, err)
			return err
		}
	}
	l.mu.Lock()
	c.group.wanted = c.info.ID
	l.mu.Unlock()
	c.restart(l.clock.Now())
	c.awaitSettling()
	return nil
}

// Pause stops or resumes the polling of a channel. Slots that pass meanwhile
// are not counted as missed.
func (l *Loop) Pause(ctx context.Context, ch capture.ChannelID, paused bool) error {
	c := l.channel(ch)
	if c == nil {
		return fmt.Errorf("pause %s: %w %s", ch, ErrUnknown, l.link)
	}
	return l.ask(ctx, c.unit.name, func(context.Context) {
		l.mu.Lock()
		c.paused = paused
		l.mu.Unlock()
		c.restart(l.clock.Now())
	})
}

func (l *Loop) unit(name string) *unit {
	for _, u := range l.units {
		if u.name == name {
			return u
		}
	}
	return nil
}

func (l *Loop) channel(id capture.ChannelID) *channel {
	for _, c := range l.channels {
		if c.info.ID == id {
			return c
		}
	}
	return nil
}
