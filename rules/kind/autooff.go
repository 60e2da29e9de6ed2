package kind

import (
	"fmt"
	"strings"
	"time"

	"steadyrail/capture"
)

// autoOff says that the meter on a rail may switch itself off before long. It
// looks at no value, and its verdict has no outcome: nothing is wrong with the
// rail.
//
// Nobody hears the keys of a handheld. What is known is when it was last in
// somebody's hands: when it was placed, tapped or connected, and when a person
// who was warned said that he had heard, with a key pressed on it.
type autoOff struct {
	base
	awake capture.Instant // last in hand; 0: it is away
	alive capture.Instant // it gave the newest answer then
}

// It is told when so much of the time has passed, in fifths: 80 %.
const (
	tellAfter = 4
	tellOf    = 5
)

func impliedAutoOff(r capture.Rail) (capture.Rule, bool) {
	return impliedRule("auto-off", r, capture.Warning), true
}

// anySleeper reports whether an instrument switches itself off at all.
func anySleeper(r capture.Roster) bool {
	for _, in := range r.Instruments {
		if in.AutoOff > 0 {
			return true
		}
	}
	return false
}

func newAutoOff(c Case) Judge { return &autoOff{base: base{Case: c}} }

func (s *autoOff) Sit(at capture.Instant, seat Seat) {
	if seat.Channel.ID != s.seat.Channel.ID || seat.Since != s.seat.Since {
		s.awake, s.alive = at, at
	}
	s.base.Sit(at, seat)
}

func (s *autoOff) Act(at capture.Instant, act *capture.Act) {
	if !s.seated() {
		return
	}
	mine := act.Subject == s.seat.Channel.ID.Instrument()
	switch {
	case act.Verb == capture.ActLinkLost && mine:
		s.awake = 0
	case act.Verb == capture.ActLinkBack && mine, act.Verb == capture.ActTap && mine && act.Text != capture.TapWanted:
		s.wake(at)
	case act.Verb == capture.ActHeard && s.near() && s.concerns(act.Subject):
		s.wake(at)
	}
}

func (s *autoOff) wake(at capture.Instant) { s.awake, s.now = at, at }

// concerns reports whether the subject of an answer means this rule's alarm.
func (s *autoOff) concerns(subject string) bool {
	return subject == "" || subject == s.Rail.Name || subject == s.Rule.Name || strings.HasPrefix(subject, s.Rule.Name+"@")
}

// Read takes an answer after its time was up, and a silence, for a key that was
// pressed: it had gone, and is on again. One that never fell silent may still go
// at any moment.
func (s *autoOff) Read(at capture.Instant, r *capture.Reading) {
	s.now = max(s.now, at)
	if r.Flags.Has(capture.TimedOut | capture.Disconnected | capture.Garbled | capture.Mismatch) {
		return
	}
	if s.near() && at.Sub(s.alive) >= max(SilentIntervals*s.seat.Channel.Every, SilentLeast) {
		s.awake = at
	}
	s.alive = at
}

// near reports whether it is time to tell.
func (s *autoOff) near() bool {
	return s.seated() && s.seat.AutoOff > 0 && s.awake != 0 && s.now.Sub(s.awake) >= s.seat.AutoOff/tellOf*tellAfter
}

// left is how long it may still stay on, in whole minutes: more is not known.
func (s *autoOff) left() time.Duration {
	return max(0, s.seat.AutoOff-s.now.Sub(s.awake)).Round(time.Minute)
}

func (s *autoOff) say() string {
	name, left := s.seat.Channel.ID.Instrument(), s.left()
	if left == 0 {
		return fmt.Sprintf("%s may switch itself off any moment", name)
	}
	return fmt.Sprintf("%s may switch itself off in about %d min", name, left/time.Minute)
}

func (s *autoOff) Condition() Condition {
	if s.near() {
		return Present
	}
	return Absent
}

func (s *autoOff) Outcome() capture.Outcome { return capture.NoData }

// Verdict carries the seconds that are left when it is time to tell; without,
// it has no unit.
func (s *autoOff) Verdict() capture.Verdict {
	v := s.blank("No meter on it that switches itself off")
	switch {
	case s.near():
		v.Say, v.Value, v.Unit = s.say()+": press a key on it", s.left().Seconds(), "s"
	case s.seated() && s.seat.AutoOff > 0:
		v.Say = fmt.Sprintf("%s switches itself off %s after the last key", s.seat.Channel.ID.Instrument(), span(s.seat.AutoOff))
	}
	return v
}

func (s *autoOff) Finding() Finding {
	return Finding{
		Say: s.say() + ": it does so " + span(s.seat.AutoOff) + " after the last key, and nobody is known to have pressed one", Advice: "press a key on it, then say heard: the count begins anew",
		Value: s.now.Sub(s.awake).Seconds(), Limit: s.seat.AutoOff.Seconds(), Unit: "s", Evidence: []capture.Instant{s.awake},
	}
}

func (s *autoOff) Recovery() Finding {
	f := Finding{Say: fmt.Sprintf("%s was touched", s.seat.Channel.ID.Instrument()), Limit: s.seat.AutoOff.Seconds(), Unit: "s", Evidence: []capture.Instant{s.awake}}
	if s.awake == 0 {
		f.Say = fmt.Sprintf("%s is away", s.seat.Channel.ID.Instrument())
	}
	return f
}

// span prints minutes, and seconds where there is no whole minute.
func span(d time.Duration) string {
	if d < time.Minute {
		return fmt.Sprintf("%.0f s", d.Seconds())
	}
	return fmt.Sprintf("%d min", d.Round(time.Minute)/time.Minute)
}
