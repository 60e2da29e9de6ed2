package poll

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"steadyrail/capture"
)

// errOther is the mismatch that the loop itself finds: the instrument was not
// told whom to expect, but another one answers than before.
var errOther = errors.New("another instrument answers than before")

// connect makes one attempt to reach an instrument.
func (l *Loop) connect(ctx context.Context, u *unit) {
	begun := time.Now()
	err, interrupted := l.reach(ctx, u)
	switch {
	case ctx.Err() != nil:
	case interrupted:
		u.retryAt = time.Now() // an act for another instrument came first
	case err != nil:
		l.stillAway(u, err, time.Since(begun))
	default:
		l.arrived(u)
	}
}

// reach connects, unless somebody is waiting for another instrument of the
// link: an act must not wait for an attempt that may take seconds.
func (l *Loop) reach(ctx context.Context, u *unit) (err error, interrupted bool) {
	ctx, cancel := context.WithTimeout(ctx, l.attemptTime(u))
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

// attemptTime bounds an attempt: while others of the link answer they must not
// wait longer for one that does not than for its answer.
func (l *Loop) attemptTime(u *unit) time.Duration {
	if !l.othersUp(u) {
		return l.opts.ConnectDeadline
	}
	return min(l.opts.ConnectDeadline, l.opts.patience(u.name))
}

func (l *Loop) othersUp(u *unit) bool {
	return slices.ContainsFunc(l.units, func(o *unit) bool { return o != u && o.up })
}

// pause is the time from an attempt that took so long to the next one.
func (l *Loop) pause(u *unit, took time.Duration) time.Duration {
	limit := backOffMax
	switch {
	case took < cheap:
		limit = backOffCheap
	case l.othersUp(u):
		return backOffMax
	}
	return min(max(2*u.backOff, backOffMin), limit)
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
	u.up, u.failures, u.backOff, u.rest, u.listened = true, 0, 0, 0, now
	u.unsure()
	doubtful := l.doubt(u, info.Identity)
	for _, c := range u.channels {
		for _, ci := range info.Channels {
			if ci.ID == c.info.ID {
				c.info.Aperture, c.info.Lag = ci.Aperture, ci.Lag // may depend on who answered
			}
		}
		c.restart(now)
	}
	l.tellBack(u, now)
	problem := ""
	if doubtful {
		problem = doubtSays(u.name, known(info.Identity))
		l.announce(u, capture.Act{Verb: capture.ActTap, Text: capture.TapWanted})
	}
	l.setState(u, func(s *State) {
		s.Up, s.Problem, s.Identity, s.Since, s.Doubtful = true, problem, info.Identity, now, doubtful
	})
	if !doubtful && l.twin(u, info.Identity) { // who came between saw it not up yet
		l.suspect(u)
	}
}

// unsure notes that an instrument may have been switched off and on: nobody
// knows what its inputs are set to.
func (u *unit) unsure() {
	for _, c := range u.channels {
		if c.group != nil {
			c.group.configured = ""
		}
		c.unsureOfRange()
	}
}

func known(id capture.Identity) string {
	switch id.Source {
	case "":
		return "its name"
	case "path":
		return "the socket it hangs on"
	}
	return "its adapter, whose serial number another one has, too,"
}

// back tells the bounds of the gap: it ends with this act, and began so many
// seconds before.
func (u *unit) back(now capture.Instant) capture.Act {
	act := capture.Act{Verb: capture.ActLinkBack, Text: fmt.Sprintf("after %.1f s", now.Sub(u.lostAt).Seconds())}
	if u.lastGood != 0 {
		act.Value = now.Sub(u.lastGood).Seconds()
		act.Text += fmt.Sprintf("; nothing was read for %.1f s", act.Value)
	}
	return act
}

// lose gives an instrument up. The channel, if any, has its flagged reading
// already.
func (l *Loop) lose(u *unit, told *channel, flag capture.Flags, err error) {
	u.up = false
	u.backOff = 0
	u.drop() // drop the descriptor at once; what matters is err
	l.setState(u, func(s *State) { s.Losses++ })
	l.away(u, flag, err, 0)
	for _, c := range u.channels {
		if c != told && c.active() {
			l.fileAbsence(c, flag)
		}
	}
}

// stillAway is an attempt that came to nothing: one flagged reading for each
// channel.
func (l *Loop) stillAway(u *unit, err error, took time.Duration) {
	flag := capture.Disconnected
	if errors.Is(err, errOther) || l.opts.flag(err).Has(capture.Mismatch) {
		flag = capture.Mismatch
	}
	l.away(u, flag, err, took)
	for _, c := range u.channels {
		if c.active() {
			l.fileAbsence(c, flag)
		}
	}
}

// away notes that an instrument is not there, and when to try again.
func (l *Loop) away(u *unit, flag capture.Flags, err error, took time.Duration) {
	l.tellLost(u, flag&capture.Mismatch, err.Error())
	u.backOff = l.pause(u, took)
	// Up to a quarter less, so that links that died together do not come back
	// together.
	u.retryAt = time.Now().Add(u.backOff - time.Duration(l.rand.Float64()*float64(u.backOff/4)))
	since := u.lostAt
	l.setState(u, func(s *State) { s.Up, s.Problem, s.Since, s.Doubtful = false, err.Error(), since, false })
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
