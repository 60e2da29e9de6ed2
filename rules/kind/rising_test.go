package kind

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// charges is the law of an ohmmeter that charges C through R.
func charges(ohms, tau float64) func(float64) float64 {
	return func(t float64) float64 { return ohms * -math.Expm1(-t/tau) }
}

// TestNoShortWhileItCharges: an audio rail with 2.4 s of time constant is judged
// within a second and a half, long before it is steady; what does not follow the
// law, or is not above the limit for certain, waits.
func TestNoShortWhileItCharges(t *testing.T) {
	for name, c := range map[string]struct {
		ohms func(float64) float64
		want capture.Outcome
		say  string
	}{
		"charges":                 {charges(5600, 2.4), capture.Pass, ", still charging: no short"},
		"a large capacitor":       {charges(900, 60), capture.Pass, ", still charging: no short"},
		"below the limit":         {charges(2.6, 2.4), capture.NoData, "Wait: not steady yet"},
		"too near to the limit":   {charges(5.6, 2.4), capture.NoData, "Wait: not steady yet"},
		"falls":                   {func(t float64) float64 { return 5600 - 900*t }, capture.NoData, "Wait: not steady yet"},
		"rises faster and faster": {func(t float64) float64 { return 100 * math.Exp(2*t) }, capture.NoData, "Wait: not steady yet"},
		"to and fro":              {func(t float64) float64 { return 500 + 200*math.Sin(9*t) }, capture.NoData, "Wait: not steady yet"},
		"steady":                  {always(5600), capture.Pass, ": no short"},
	} {
		s := dead(t)
		s.ohmsFor(1, 1.5, c.ohms)
		v := s.Verdict()
		if v.Outcome != c.want || !strings.Contains(v.Say, c.say) || strings.Contains(v.Say, "charging") != strings.Contains(c.say, "charging") {
			t.Errorf("%s: %v %q", name, v.Outcome, v.Say)
		}
		if s.Condition() != Absent {
			t.Errorf("%s: %v", name, s.Condition())
		}
	}
}

// TestStillChargingNeedsADeadRail: without the proof, over a warm joint or after a
// lift nothing is judged by a rise.
func TestStillChargingNeedsADeadRail(t *testing.T) {
	s := armed(t, "short", five).(*short)
	s.ohmsFor(1, 2, charges(5600, 2.4))
	if s.Outcome() != capture.ConditionalFail {
		t.Errorf("never proven dead: %v", s.Outcome())
	}
	s = dead(t)
	s.Act(at(0.8), &capture.Act{Verb: capture.ActLift, Subject: "C104"})
	s.ohmsFor(1, 2, charges(5600, 2.4))
	if s.Outcome() != capture.NoData || s.Condition() != Unknown {
		t.Errorf("warm joint: %v", s.Outcome())
	}
	s = dead(t)
	s.ohmsFor(1, 2, charges(5600, 2.4))
	s.Read(at(3.2), &capture.Reading{Quantity: capture.Resistance, Flags: capture.OverRange})
	if s.bounded() || s.rise.n != 0 {
		t.Error("a lift leaves the rise behind")
	}
}

// TestARiseIsNeverAShort: whatever R and C, what is called no short while it
// charges has its end above the limit, and a short never is.
func TestARiseIsNeverAShort(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		ohms := math.Pow(10, rapid.Float64Range(-1, 5).Draw(r, "decade"))
		tau := rapid.Float64Range(0.02, 30).Draw(r, "tau")
		scatter := rapid.SliceOfN(rapid.Float64Range(-0.02, 0.02), 30, 30).Draw(r, "scatter")
		s := dead(t)
		law, k := charges(ohms, tau), 0
		s.ohmsFor(1, 5, func(x float64) float64 {
			k++
			return law(x) + scatter[k%len(scatter)]
		})
		if s.Outcome() == capture.Pass && ohms < s.limit() {
			r.Fatalf("%g Ω with %g s: %s", ohms, tau, s.Verdict().Say)
		}
	})
}
