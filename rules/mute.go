package rules

import (
	"fmt"
	"strings"
	"time"

	"steadyrail/capture"
)

// mute takes a mute; a length of zero ends it.
func (e *Engine) mute(at capture.Instant, act capture.Act) {
	e.mutes = e.mutes.With(at, act)
	for _, w := range e.watchers {
		e.remute(w, at)
	}
}

// together is how near two rails must fall for one to be the other's cause,
// and linger how long a cause still explains after it went: the rail behind it
// is read a moment later.
const (
	together = time.Second
	linger   = 2 * time.Second
)

// reason is why nobody is told of a rule's alarm now: "" when they are.
func (e *Engine) reason(w *watcher, at capture.Instant) string {
	for _, m := range e.mutes {
		if w.concerns(m.Subject) && at < m.Until {
			return byWhom(byPerson, m.By)
		}
	}
	if c := e.cause(w, at); c != "" {
		return c
	}
	if n := w.chatter.count(at); n >= chatterLimit && w.chatter.said() {
		return fmt.Sprintf("it chatters: %d times within a minute", n)
	}
	return ""
}

func byWhom(what, by string) string {
	if by == "" {
		return what
	}
	return what + " by " + by
}

// remute tells when an alarm that is present becomes muted or is muted no
// more: a transition from a state to itself.
func (e *Engine) remute(w *watcher, at capture.Instant) {
	if !w.state.IsActive() {
		return
	}
	if why := e.reason(w, at); (why == "") != (w.muted == "") {
		f := w.why
		f.Evidence = []capture.Instant{at}
		e.move(w, at, w.state, f, "", why)
	}
}

// cause looks for another alarm that explains this one: a graver rule of the
// same rail, or the fall of a rail that feeds it, as known from earlier ticks or from
// an earlier record of this one: who waited for the tick told one fall twice.
func (e *Engine) cause(w *watcher, at capture.Instant) string {
	rank := w.kind.Falls
	if rank == 0 {
		return ""
	}
	for _, o := range e.rail(w.rule.Rail).watchers {
		if r := o.kind.Falls; r != 0 && r < rank && explains(o, w, at) {
			return "told as " + o.rule.Kind + " already"
		}
	}
	feeder := e.rail(w.rail.FedFrom)
	for range e.rails { // no longer a chain than there are rails, should they feed in a ring
		if feeder == nil || feeder.rail.Name == w.rail.Name {
			break
		}
		for _, o := range feeder.watchers {
			if r := o.kind.Falls; (r == 1 || r == 2) && (o.activeTick < e.tick || o.activeAt < at) && explains(o, w, at) {
				return feeder.rail.Name + " feeds it"
			}
		}
		feeder = e.rail(feeder.rail.FedFrom)
	}
	return ""
}

// explains reports whether o's alarm came before w's or at most a moment after
// it, and still holds or has just gone.
func explains(o, w *watcher, at capture.Instant) bool {
	if o.activeAt == 0 || o.activeAt.Sub(w.activeAt) > together {
		return false
	}
	return o.state.IsActive() || at.Sub(o.endedAt) < linger
}

// An alarm chatters when it comes three times or more within a minute (the
// criterion used with ISA-18.2). The third says so; more are not told.
const (
	chatterLimit = 3
	chatterSpan  = time.Minute
)

// chatter remembers the newest activations.
type chatter struct {
	at [16]capture.Instant
	n  int
}

func (c *chatter) add(at capture.Instant) {
	c.at[c.n%len(c.at)] = at
	c.n++
}

// count returns how many activations lie in the minute before at, at most as
// many as are remembered.
func (c *chatter) count(at capture.Instant) int {
	n := 0
	for i := range min(c.n, len(c.at)) {
		if at.Sub(c.at[i]) < chatterSpan {
			n++
		}
	}
	return n
}

// said reports whether the activation before the newest was a third within a
// minute, and so said that more are not told. One that comes every 25 s never has
// a fourth within one, and is not told for ever all the same.
func (c *chatter) said() bool {
	if c.n < 2 {
		return false
	}
	before := chatter{at: c.at, n: c.n - 1}
	before.at[before.n%len(c.at)] = 0 // the newest, or one that is over sixteen old
	return before.count(c.at[(c.n-2)%len(c.at)]) >= chatterLimit
}

// suppressed reports whether an alarm whose condition has gone, and which would
// go to a state, ends in normal instead, with nobody to hear it. Suppressed by design (state H of ANSI/ISA-18.2-2016 and
// IEC 62682:2014) it does so because the alarm it follows from is the one to hear;
// shelved by a person (state G) because that one said so: what is shelved comes
// back as unacknowledged while its condition is there, and as normal when it has
// cleared and does not latch (from memory of the standards' state diagram). A
// latch stays latched until it is reset. Where a trip acted under a person's mute
// somebody has to hear of it: the standards know of alarms only, not of what they
// switch off.
func (w *watcher) suppressed(to capture.AlarmState) bool {
	return isCause(w.muted) || isMute(w.muted) && to == capture.Returned && w.rule.Trip == ""
}

// isMute reports whether a mute's reason is a person's.
func isMute(muted string) bool { return muted == byPerson || strings.HasPrefix(muted, byPerson+" by ") }

// byPerson is the reason of what a person muted, see [byWhom].
const byPerson = "muted"

// isCause reports whether a mute's reason names another alarm as the cause.
func isCause(muted string) bool {
	return strings.HasSuffix(muted, " feeds it") || strings.HasPrefix(muted, "told as ")
}
