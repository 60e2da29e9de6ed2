package poll

import (
	"context"
	"errors"
	"fmt"
	"time"

	"steadyrail/capture"
)

// errSettling: the input was switched just now.
var errSettling = errors.New("settling")

// poll uses the pending slot of a channel for one exchange.
func (l *Loop) poll(ctx context.Context, c *channel) {
	begun := time.Now()
	r, start, err := l.measure(ctx, c)
	end := l.clock.Now()
	took := time.Since(begun)
	if err != nil && ctx.Err() != nil {
		return // stopped in the middle: not the instrument's failure
	}
	if errors.Is(err, errSettling) {
		c.awaitSettling()
		return
	}
	flag := capture.Flags(0)
	if err != nil {
		flag = l.opts.flag(err)
		r = capture.Reading{Flags: flag}
	}
	r.Channel, r.Quantity = c.info.ID, c.info.Quantity
	var from capture.Instant
	if c.info.Streams {
		r.Measured, r.HalfWidth, from = streamed(c.unit.listened, start, end, took, c.info, l.transfer(c, r))
	} else {
		r.Measured, r.HalfWidth, from = stamp(start, end, c.info.Aperture, c.info.Lag, l.transfer(c, r), c.info.Runs)
	}
	if c.counts(from) {
		l.file(c, r, from)
	}
	l.count(c, took, l.moveOn(c, end, err))
	if r.HasValue() {
		c.unit.lastGood = end
	}
	if flag.Has(capture.TimedOut) && l.othersUp(c.unit) {
		c.unit.rest = end.Add(end.Sub(start))
	}
	l.judge(c, flag, err)
}

// moveOn makes the next slot the pending one and returns how many were missed.
func (l *Loop) moveOn(c *channel, end capture.Instant, err error) (missed int64) {
	if c.info.Streams {
		c.unit.listened = end
		return c.stream.next(end, c.info.Every, err)
	}
	return c.schedule.Next(l.clock.Now())
}

// awaitSettling makes the first slot after the settling the pending one.
func (c *channel) awaitSettling() {
	if c.info.Settle > 0 && c.group.configured == c.info.ID {
		c.schedule.Restart(c.group.settled)
	}
}

// counts reports whether the input had settled when the measuring began.
func (c *channel) counts(begun capture.Instant) bool {
	return c.group == nil || c.info.Settle == 0 || begun >= c.group.settled
}

// measure selects the channel where its input is shared and not certain to be
// set, and asks. The start is that of the asking.
func (l *Loop) measure(ctx context.Context, c *channel) (capture.Reading, capture.Instant, error) {
	if g := c.group; g != nil && g.configured != c.info.ID {
		start := l.clock.Now()
		if err := l.configure(ctx, c); err != nil {
			return capture.Reading{}, start, err
		}
		if c.info.Settle > 0 && !c.info.Streams {
			return capture.Reading{}, start, errSettling
		}
	}
	if err := l.holdRange(ctx, c); err != nil {
		return capture.Reading{}, l.clock.Now(), err
	}
	ctx = l.bounded(ctx)
	start := l.clock.Now()
	r, err := c.unit.in.Measure(ctx, c.info.ID)
	return r, start, err
}

// bounded returns the context of an exchange, which ends with the deadline or
// up to a tenth of it earlier: exchanges that follow one another closely share
// one. A timer of its own for each would wake the runtime's poller every time,
// which takes as much processor time as the exchange itself.
func (l *Loop) bounded(ctx context.Context) context.Context {
	now := time.Now()
	if l.exchange == nil || now.After(l.shared) || l.exchange.Err() != nil {
		l.giveUp()
		l.exchange, l.giveUp = context.WithTimeout(ctx, l.opts.Deadline)
		l.shared = now.Add(l.opts.Deadline / 10)
	}
	return l.exchange
}

// configure switches a shared input. Until it has succeeded nobody knows what
// the instrument measures, and nothing of the group is polled without trying
// again.
func (l *Loop) configure(ctx context.Context, c *channel) error {
	ctx, cancel := context.WithTimeout(ctx, l.opts.selectDeadline)
	defer cancel()
	c.group.configured = ""
	if err := c.unit.in.Select(ctx, c.info.ID); err != nil {
		return fmt.Errorf("select %s: %w", c.info.ID, err)
	}
	c.group.configured = c.info.ID
	c.group.settled = l.clock.Now().Add(c.info.Settle)
	c.unsureOfRange() // the instrument may keep one for each function, or none
	return nil
}

func (l *Loop) transfer(c *channel, r capture.Reading) time.Duration {
	if l.opts.Transfer == nil || r.Text == "" {
		return 0
	}
	return l.opts.Transfer(c.unit.name, len(r.Text)+1)
}

// file counts a reading's outcome and hands it to the bus.
func (l *Loop) file(c *channel, r capture.Reading, begun capture.Instant) {
	l.mu.Lock()
	c.stat.outcomes[r.Flags.Outcome()]++
	l.mu.Unlock()
	l.sink.ReadBegun(r, begun)
}

// judge decides from how an exchange ended whether the instrument is still
// there.
func (l *Loop) judge(c *channel, flag capture.Flags, err error) {
	u := c.unit
	switch {
	case err == nil || flag.Has(capture.Refused):
		u.failures = 0
		return
	case flag.Has(capture.Disconnected | capture.Mismatch):
	default:
		if flag.Has(capture.TimedOut) {
			u.unsure() // silent, because it is being switched off and on?
		}
		u.failures++
		if u.failures < l.opts.SilentAfter {
			return
		}
		err = fmt.Errorf("no readable answer %d times running: %w", u.failures, err)
	}
	l.lose(u, c, flag, err)
}
