package poll

import (
	"context"
	"errors"
	"fmt"
	"time"

	"steadyrail/capture"
)

// errOther is the mismatch that the loop itself finds: the instrument was not
// told whom to expect, but another one answers than before.
var errOther = errors.New("another instrument answers than before")

// connect makes one attempt to reach an instrument.
func (l *Loop) connect(ctx context.Context, u *unit) {
	err, interrupted := l.reach(ctx, u)
	switch {
	case ctx.Err() != nil:
	case interrupted:
		u.retryAt = time.Now() // an act for another instrument came first
	case err != nil:
		l.stillAway(u, err)
	default:
		l.arrived(u)
	}
}

// reach connects, unless somebody is waiting for another instrument of the
// link: an act must not wait for an attempt that may take seconds.
func (l *Loop) reach(ctx context.Context, u *unit) (err error, interrupted bool) {
	ctx, cancel := context.WithTimeout(ctx, l.opts.ConnectDeadline)
	defer cancel()
	if !l.beginConnecting(u.name, cancel) {
		return nil, true
	}
	err = u.in.Connect(ctx)
	l.endConnecting()
	if err != nil {
		u.drop() // whatever is half open; the cause is err
		return err, errors.Is(ctx.Err(), context.Canceled)
	}
	id := u.in.Info().Identity
	if u.met && !u.known.Same(id) {
		u.drop() // not ours; the cause is the identity
		return fmt.Errorf("%w: %s, not %s", errOther, id, u.known), false
	}
	u.known, u.met = id, true
	return nil, false
}

// drop gives the link up without a word to whoever is at the other end. An
// error of it would only hide the cause.
func (u *unit) drop() {
	if d, ok := u.in.(interface{ Drop() error }); ok {
		_ = d.Drop()
		return
	}
	_ = u.in.Close()
}

func (l *Loop) beginConnecting(name string, cancel context.CancelFunc) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	for other, n := range l.waiting {
		if other != name && n > 0 {
			return false
		}
	}
	l.connecting, l.interrupt = name, cancel
	return true
}

func (l *Loop) endConnecting() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.connecting, l.interrupt = "", nil
}

// arrived takes an instrument into the polling.
func (l *Loop) arrived(u *unit) {
	now := l.clock.Now()
	info := u.in.Info()
	u.up, u.failures, u.backOff = true, 0, 0
	for _, c := range u.channels {
		for _, ci := range info.Channels {
			if ci.ID == c.info.ID {
				c.info.Aperture, c.info.Lag = ci.Aperture, ci.Lag // may depend on who answered
			}
		}
		if c.group != nil {
			c.group.configured = "" // it may have been switched off and on
		}
		c.schedule.Restart(now)
	}
	if u.lostAt != 0 {
		l.announce(u, capture.Act{Verb: capture.ActLinkBack, Text: fmt.Sprintf("after %.1f s", now.Sub(u.lostAt).Seconds())})
		u.lostAt = 0
	}
	l.setState(u, func(s *State) {
		s.Up, s.Problem, s.Identity, s.Since = true, "", info.Identity, now
	})
}

// lose gives an instrument up. The channel, if any, has its flagged reading
// already.
func (l *Loop) lose(u *unit, told *channel, flag capture.Flags, err error) {
	u.up = false
	u.backOff = 0
	u.drop() // drop the descriptor at once; what matters is err
	l.setState(u, func(s *State) { s.Losses++ })
	l.away(u, flag, err)
	for _, c := range u.channels {
		if c != told && c.active() {
			l.fileAbsence(c, flag)
		}
	}
}

// stillAway is an attempt that came to nothing: one flagged reading for each
// channel.
func (l *Loop) stillAway(u *unit, err error) {
	flag := capture.Disconnected
	if errors.Is(err, errOther) || l.opts.flag(err).Has(capture.Mismatch) {
		flag = capture.Mismatch
	}
	l.away(u, flag, err)
	for _, c := range u.channels {
		if c.active() {
			l.fileAbsence(c, flag)
		}
	}
}

// away announces the loss once, and again only if it turns into another kind:
// "gone" and "somebody else" are different things to a person.
func (l *Loop) away(u *unit, flag capture.Flags, err error) {
	now := l.clock.Now()
	kind := flag & capture.Mismatch
	if u.lostAt == 0 || u.why != kind {
		if u.lostAt == 0 {
			u.lostAt = now
		}
		u.why = kind
		l.announce(u, capture.Act{Verb: capture.ActLinkLost, Text: err.Error()})
	}
	u.backOff = min(max(2*u.backOff, backOffMin), backOffMax)
	// Up to a quarter less, so that links that died together do not come back
	// together.
	u.retryAt = time.Now().Add(u.backOff - time.Duration(l.rand.Float64()*float64(u.backOff/4)))
	since := u.lostAt
	l.setState(u, func(s *State) { s.Up, s.Problem, s.Since = false, err.Error(), since })
}

func (l *Loop) fileAbsence(c *channel, flag capture.Flags) {
	now := l.clock.Now()
	if !flag.Has(capture.Mismatch) {
		flag = capture.Disconnected
	}
	l.file(c, capture.Reading{Channel: c.info.ID, Quantity: c.info.Quantity, Flags: flag, Measured: now}, now)
}

// announce posts an act about an instrument to every job it serves, or to the
// bench when it serves none.
func (l *Loop) announce(u *unit, act capture.Act) {
	act.Subject = u.name
	jobs := l.sink.Serves(u.name)
	if len(jobs) == 0 {
		jobs = []string{""}
	}
	for _, job := range jobs {
		// A job that was closed in between needs no news of its instruments.
		_, _ = l.sink.Post(job, act)
	}
}
