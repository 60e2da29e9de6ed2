package kind

import (
	"fmt"

	"steadyrail/capture"
)

func (s *short) Verdict() capture.Verdict {
	v := s.blank(s.say())
	v.Outcome, v.Held = s.Outcome(), s.tell()
	if !s.contact {
		v.Leads = s.lead // the first figure of the next contact is shown before it is judged
		return v
	}
	v.Value, v.Unit, v.Resolution = s.value, capture.Ohm.ASCII(), s.last.Resolution
	v.Leads = s.taken(&s.last)
	s.doubt(&v, s.u, s.bounds())
	if !s.judged() && !s.bounded() {
		v.Probability = 0 // a figure that may not be judged has none
	}
	v.From, v.To, v.N = s.run.from, s.lastAt, s.run.n
	if s.bounded() {
		v.From, v.N = s.rise.from, s.rise.n
	}
	return v
}

func (s *short) say() string {
	switch {
	case s.lastAt == 0:
		return "No reading"
	case !s.contact:
		return "No contact: open leads, or above the range"
	case s.negative():
		return s.blocked() + "negative resistance, there is voltage on the rail"
	case !s.dead && s.proof.at != 0 && abs(s.proof.value) >= DeadBelow:
		return s.blocked() + capture.Volt.Text(s.proof.value, max(s.proof.res, 0.001)) + " on the rail" + s.proof.toDo
	case !s.dead:
		return s.blocked() + "prove the rail dead first"
	case s.joint.warm(s.lastAt):
		return "Wait: " + s.joint.why() + ", until two readings half a minute apart agree"
	case !s.run.steady() && !s.bounded():
		return "Wait: not steady yet"
	}
	w := s.judgedWord()
	return w.say(s.limit()) + s.ways.say() + w.leads + w.remedy()
}

// blocked begins what is said where a resistance cannot be judged: of one that was
// judged before only that now is not.
func (s *short) blocked() string {
	if s.over() {
		return "Not judged now: "
	}
	return "Cannot tell: "
}

func (s *short) leads() string {
	if s.nulled && s.contact && s.last.Resolution > s.lead {
		return ", the null is smaller than a digit of this range and not taken off"
	}
	if s.nulled {
		return ""
	}
	if s.stale {
		return ", the null of the leads is too old"
	}
	return ", leads not nulled"
}

func (s *short) ohms(v float64) string { return capture.Ohm.Text(v, s.last.Resolution) }

func (s *short) Finding() Finding {
	return Finding{
		Say:    fmt.Sprintf("%s is short to its return: %s%s", s.Rail.Name, s.ohms(s.value), s.leads()),
		Advice: "unplug its load and read again: if the short goes, the load has it; if it stays, lift one part after another",
		Value:  s.value, Limit: s.limit(), Unit: capture.Ohm.ASCII(),
		Evidence: []capture.Instant{s.proof.at, s.run.from, s.lastAt},
	}
}

func (s *short) Recovery() Finding {
	f := Finding{Value: s.value, Limit: s.limit(), Unit: capture.Ohm.ASCII(), Evidence: []capture.Instant{s.lastAt}}
	if !s.contact {
		f.Say, f.Quiet = "The probe was lifted from "+s.Rail.Name, "the probe was lifted"
		return f
	}
	switch {
	case s.negative():
		f.Say = "Whether " + s.Rail.Name + " is still short cannot be told: there is voltage on the rail"
	case !s.dead:
		f.Say = "Whether " + s.Rail.Name + " is still short cannot be told: prove the rail dead again"
	case s.fits != capture.Pass:
		f.Say = fmt.Sprintf("Whether %s is still short cannot be told: %s, not steady or too near to %s", s.Rail.Name, s.ohms(s.value)+s.judgedWord().doubt(), s.ohms(s.limit()))
	default:
		f.Say = fmt.Sprintf("%s is no longer short: %s", s.Rail.Name, s.ohms(s.value))
	}
	return f
}
