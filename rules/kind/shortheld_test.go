package kind

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// TestHeldWord: what was judged without power stands through whatever comes, with
// from when it says nothing of now; it is no judgement of now. A rail that never
// was judged has nothing to hold.
func TestHeldWord(t *testing.T) {
	on := capture.Act{Verb: capture.ActOutput, Subject: "supply/1", Text: "on"}
	for name, c := range map[string]struct {
		ohms float64
		then func(*short)
		want capture.Outcome
		why  string
	}{
		"power on":      {4670, func(s *short) { s.Act(at(10), &on) }, capture.Pass, "supply/1 was switched on"},
		"short, power":  {0.84, func(s *short) { s.Act(at(10), &on) }, capture.Fail, "supply/1 was switched on"},
		"limits":        {4670, func(s *short) { s.Act(at(10), &capture.Act{Verb: capture.ActLimits, Subject: "supply/1"}) }, capture.Pass, "supply/1 was set"},
		"volts":         {4670, func(s *short) { s.Beside(at(10), &capture.Reading{Quantity: capture.DCVoltage, Value: 5}) }, capture.Pass, voltageSeen},
		"part lifted":   {4670, func(s *short) { s.Act(at(10), &capture.Act{Verb: capture.ActLift, Subject: "CN3"}); s.Act(at(11), &on) }, capture.Pass, "CN3 was lifted"},
		"negative ohms": {4670, func(s *short) { s.ohmsFor(10, 1, always(-3)) }, capture.Pass, voltageSeen},
		"charging":      {0, func(s *short) { s.Act(at(10), &on) }, capture.Pass, "supply/1 was switched on"},
	} {
		s := dead(t)
		if c.ohms > 0 {
			s.ohmsFor(1, 3, always(c.ohms))
		} else {
			s.ohmsFor(1, 3, charges(5600, 2.4))
		}
		if v := s.Verdict(); v.Outcome != c.want || v.Held != (capture.HeldWord{}) {
			t.Fatalf("%s: before: %+v", name, v)
		}
		c.then(s)
		s.ohmsFor(11.2, 1, always(-3))
		v := s.Verdict()
		if v.Outcome != capture.NoData || !strings.HasPrefix(v.Say, "Not judged now: ") || s.Condition() == Present {
			t.Errorf("%s: %v %q", name, v.Outcome, v.Say)
		}
		if v.Held.Outcome != c.want || v.Held.Since != at(10) || v.Held.Why != c.why || v.Held.At >= at(4) {
			t.Errorf("%s: %+v", name, v.Held)
		}
	}
	s := armed(t, "short", five).(*short)
	s.ohmsFor(1, 3, always(4670))
	s.Act(at(10), &on)
	if v := s.Verdict(); v.Outcome != capture.ConditionalFail || v.Held != (capture.HeldWord{}) || !strings.Contains(v.Say, "prove the rail dead") {
		t.Errorf("never proven dead: %+v", v)
	}
}

// TestHeldIsJudgedAnew: a new proof and new ohms take the place of what was held;
// no short backwards does not, a short does.
func TestHeldIsJudgedAnew(t *testing.T) {
	s := dead(t)
	s.ohmsFor(1, 3, always(4670))
	s.Act(at(5), &capture.Act{Verb: capture.ActOutput, Subject: "supply/1", Text: "on"})
	s.Beside(at(20), &capture.Reading{Quantity: capture.DCVoltage, Value: 0.001})
	s.ohmsFor(20.2, 3, always(0.84))
	if v := s.Verdict(); v.Outcome != capture.Fail || v.Held != (capture.HeldWord{}) {
		t.Errorf("%+v", v)
	}
	s.Read(at(24), &capture.Reading{Quantity: capture.Resistance, Flags: capture.OverRange})
	if h := s.Verdict().Held; h.Outcome != capture.Fail || h.Since != 0 || plain(h.Text(time.UTC)) != "0.840 Ω: short, at 08:00" {
		t.Errorf("lifted: %+v %q", h, h.Text(time.UTC))
	}
	s.Act(at(25), &capture.Act{Verb: capture.ActPolarity, Subject: string(s.seat.Channel.ID), Text: capture.Reverse})
	s.Beside(at(25), &capture.Reading{Quantity: capture.DCVoltage, Value: 0.001})
	s.ohmsFor(25.2, 3, always(4670))
	s.Read(at(29), &capture.Reading{Quantity: capture.Resistance, Flags: capture.OverRange})
	if h := s.Verdict().Held; h.Outcome != capture.Fail {
		t.Errorf("no short backwards: %+v", h)
	}
}

// TestNearTheLimitSaysItsUncertainty: what cannot be told is said with the
// uncertainty that it hangs on, and with what would decide it: 2 · 0.1 · 4.8/√3.
func TestNearTheLimitSaysItsUncertainty(t *testing.T) {
	for _, c := range []struct {
		ohms, null float64
		want       string
	}{
		{4.8, 0, "4.800 Ω ± 0.55 Ω (k = 2): cannot tell, too near to 5.000 Ω, leads not nulled; null the leads or use four wires"},
		{5.0, 0.2, "4.800 Ω ± 0.55 Ω (k = 2): cannot tell, too near to 5.000 Ω; use four wires"},
	} {
		s := dead(t)
		s.seat.Channel.Accuracy = []capture.Accuracy{{Range: 100, OfReading: 0.1}}
		if c.null > 0 {
			s.Act(at(0.7), &capture.Act{Verb: capture.ActNull, Value: c.null})
		}
		s.ohmsFor(1, 3, always(c.ohms))
		if got := plain(s.Verdict().Say); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
