package kind

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// dead is a judge of shorts on a rail that was proven dead.
func dead(t *testing.T) *short {
	s := armed(t, "short", five).(*short)
	s.Beside(at(0.5), &capture.Reading{Quantity: capture.DCVoltage, Value: 0.001})
	return s
}

func (s *short) ohmsFor(from, seconds float64, ohms func(t float64) float64) {
	for x := 0.0; x < seconds; x += 0.2 {
		s.Read(at(from+x), &capture.Reading{Quantity: capture.Resistance, Value: ohms(x), Resolution: 0.001})
	}
}

func always(v float64) func(float64) float64 { return func(float64) float64 { return v } }

// TestWarmJoint: after a part was soldered nothing is judged until two readings
// half a minute apart agree, or three minutes are over. Connectors are unplugged.
func TestWarmJoint(t *testing.T) {
	lift := func(subject, text string) capture.Act {
		return capture.Act{Verb: capture.ActLift, Subject: subject, Text: text}
	}
	for name, c := range map[string]struct {
		act  capture.Act
		ohms func(float64) float64
		wait float64 // seconds from the lift to the first judgement
	}{
		"agrees":           {lift("C104", ""), always(113), 30},
		"copper cools":     {lift("C104", ""), func(t float64) float64 { return 0.8 + 0.2*math.Exp(-t/20) }, 90},
		"never agrees":     {lift("PS2", ""), func(t float64) float64 { return 113 + t }, 180},
		"put back":         {capture.Act{Verb: capture.ActPutBack, Subject: "PS2"}, always(113), 30},
		"connector":        {lift("CN3", ""), always(113), 0},
		"plug":             {lift("J12", ""), always(113), 0},
		"says so":          {lift("PS2", "Unplugged with its socket"), always(113), 0},
		"no designation":   {lift("CN", ""), always(113), 30},
		"a part like a CN": {lift("CNC1", ""), always(113), 30},
		"on other rails":   {lift("PS3", capture.OnRails("", []string{"+12 V audio"})), always(113), 0},
		"on this rail":     {lift("PS2", capture.OnRails("", []string{"+12 V audio", five.Name})), always(113), 30},
	} {
		s := dead(t)
		s.ohmsFor(1, 3, always(0.84))
		if s.Outcome() != capture.Fail {
			t.Fatal(s.Verdict().Say)
		}
		s.Act(at(4), &c.act)
		judged := math.Inf(1)
		for x := 4.2; x < 200; x += 0.2 {
			s.Beside(at(x), &capture.Reading{Quantity: capture.DCVoltage, Value: 0.001})
			s.Read(at(x), &capture.Reading{Quantity: capture.Resistance, Value: c.ohms(x - 4.2), Resolution: 0.001})
			if s.joint.warm(s.lastAt) {
				if s.Outcome() != capture.NoData || s.Condition() != Unknown || !strings.Contains(s.Verdict().Say, s.joint.why()+", until two") {
					t.Fatalf("%s: %v %v %q", name, s.Outcome(), s.Condition(), s.Verdict().Say)
				}
				continue
			}
			judged = min(judged, x-4)
		}
		if judged < c.wait-0.01 || judged > c.wait+2.5 {
			t.Errorf("%s: judged after %.1f s, want %.0f", name, judged, c.wait)
		}
	}
}

// TestNullExpires: after four hours the leads count as not nulled, and it is
// said; the scatter of the day before does not stand in for today's.
func TestNullExpires(t *testing.T) {
	s := dead(t)
	s.Act(at(0.6), &capture.Act{Verb: capture.ActNull, Value: 0.2})
	s.ohmsFor(1, 3, always(5.3))
	if got := s.Verdict().Say; !strings.HasSuffix(got, "5.100 Ω: no short") && !strings.Contains(got, "5.1") {
		t.Error(got)
	}
	if v := s.Verdict(); v.Leads != 0.2 {
		t.Errorf("%g Ω taken off, of a null of 0.2 Ω", v.Leads)
	}
	late := NullLasts.Seconds() + 10
	s.Beside(at(late-1), &capture.Reading{Quantity: capture.DCVoltage, Value: 0.001})
	s.ohmsFor(late, 3, always(5.3))
	if got := s.Verdict(); got.Value != 5.3 || got.Leads != 0 || !strings.Contains(got.Say, "null of the leads is too old") {
		t.Errorf("%g %q", got.Value, got.Say)
	}
	var f Nulls
	for k, ohms := range []float64{0.1, 0.5, 0.3} {
		f.Add(at(float64(k)), "dmm/ohms", ohms)
	}
	f.Add(at(5), "", 0.2)
	if n := f.List()[0]; n.N() != 3 || math.Abs(n.Scatter()-0.2) > 1e-9 || n.Old(at(3600)) || !n.Old(at(5*3600)) || !strings.Contains(n.Say(at(3)), "scatter of 3 nulls") || !strings.Contains(n.Say(at(5*3600)), "null again") {
		t.Errorf("%+v %g %q", n, n.Scatter(), n.Say(at(3)))
	}
	f.Add(at(5*3600), "dmm/ohms", 0.3)
	if n := f.List()[1]; n.N() != 1 || n.Scatter() != tips {
		t.Errorf("a null after an expired one: %d, %g", n.N(), n.Scatter())
	}
	if n, ok := f.of("dmm/ohms"); !ok || n.Subject != "dmm/ohms" {
		t.Errorf("%+v", n)
	}
}

// TestBothWays: what the other polarity had stands in the verdict.
func TestBothWays(t *testing.T) {
	for name, c := range map[string]struct {
		forward, reverse float64
		want             string
		not              string
	}{
		"a short is the same": {0.47, 0.48, "leads reversed, forward 0.470 Ω", "junction"},
		"a junction is not":   {480, 12, "a junction conducts one way", "nothing"},
	} {
		s := dead(t)
		s.ohmsFor(1, 3, always(c.forward))
		if strings.Contains(s.Verdict().Say, "reversed") {
			t.Error(s.Verdict().Say)
		}
		s.Act(at(4), &capture.Act{Verb: capture.ActPolarity, Subject: string(s.seat.Channel.ID), Text: capture.Reverse})
		s.Beside(at(4.1), &capture.Reading{Quantity: capture.DCVoltage, Value: 0.001})
		s.ohmsFor(4.2, 3, always(c.reverse))
		if got := strings.ReplaceAll(s.Verdict().Say, "\u00a0", " "); !strings.Contains(got, c.want) || strings.Contains(got, c.not) {
			t.Errorf("%s: %q", name, got)
		}
		s.Act(at(8), &capture.Act{Verb: capture.ActLift, Subject: "CN3"})
		if strings.Contains(s.Verdict().Say, "forward") {
			t.Errorf("%s: what was before the lift says nothing now: %q", name, s.Verdict().Say)
		}
	}
}

// TestNotSteadyWhileItCharges: on the exact law of an ohmmeter charging R and C,
// up to a tenth of a farad, what is called steady has less to come than readings
// may scatter by, twice.
func TestNotSteadyWhileItCharges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		final := rapid.Float64Range(1, 1e5).Draw(t, "final")
		tau := final * rapid.Float64Range(1e-4, 0.1).Draw(t, "farad")
		every := rapid.SampledFrom([]float64{0.1, 0.2, 0.5}).Draw(t, "interval")
		var r steadyRun
		for x := every; x < min(8*tau, 400); x += every {
			v := final * (1 - math.Exp(-x/tau))
			r.add(at(x), at(x), v, final/1e5)
			if left := final - v; r.steady() && left > 2*agree(v, final/1e5) {
				t.Fatalf("steady at %g of %g Ω after %.1f s, tau %.1f s", v, final, x, tau)
			}
		}
	})
}
