package uncertainty_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

func stated(v, sd, n float64) uncertainty.Statement {
	acc := []capture.Accuracy{{Range: 10, OfReading: 0.001, OfRange: 0.0001, Resolution: 0.0001, PerKelvin: 0.0001}}
	return uncertainty.State(uncertainty.Input{Value: v, Range: 10, Accuracy: acc, SD: sd, Effective: n, Unit: capture.Volt})
}

// The budget of a statement combines to its u.
func TestPartsMakeTheStatement(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		room := rapid.Float64Range(0, 50).Draw(t, "room")
		s := uncertainty.State(uncertainty.Input{
			Value: rapid.Float64Range(-10, 10).Draw(t, "value"), Range: 10, Accuracy: []capture.Accuracy{{Range: 10, OfReading: 0.001, OfRange: 0.0001, Resolution: 0.0001, PerKelvin: 0.001}},
			Ambient: &room, Lead: rapid.Float64Range(0, 0.1).Draw(t, "lead"), SD: rapid.Float64Range(0, 0.1).Draw(t, "sd"), Effective: rapid.Float64Range(0, 50).Draw(t, "n"),
		})
		got, err := uncertainty.Budget{Components: s.Parts()}.Combine()
		if err != nil || math.Abs(got.Standard-s.Standard) > 1e-12 {
			t.Fatalf("%+v: %g and %g, %v", s.Parts(), got.Standard, s.Standard, err)
		}
		if k := uncertainty.CoverageFactor(got.Degrees); math.Abs(k-s.Coverage) > 0.7 && got.Degrees > 3 {
			t.Fatalf("k %g and %g", k, s.Coverage)
		}
	})
}

// U grows with every component.
func TestMonotoneInEachComponent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) float64 { return rapid.Float64Range(0, 0.01).Draw(t, name) }
		acc := capture.Accuracy{Range: 10, OfReading: 1e-6 + draw("of reading"), OfRange: draw("of range"), Digits: 100 * draw("digits"), Resolution: draw("resolution"), PerKelvin: draw("per kelvin")}
		room := 23 + 1000*draw("room")
		in := uncertainty.Input{Value: 5, Range: 10, Ambient: &room, Lead: draw("lead"), SD: draw("sd"), Effective: 30}
		u := func(in uncertainty.Input, a capture.Accuracy) float64 {
			in.Accuracy = []capture.Accuracy{a}
			return uncertainty.State(in).Standard
		}
		was, more := u(in, acc), 0.001+draw("more")
		for i, grow := range []func(*uncertainty.Input, *capture.Accuracy){
			func(_ *uncertainty.Input, a *capture.Accuracy) { a.OfReading += more },
			func(_ *uncertainty.Input, a *capture.Accuracy) { a.OfRange += more },
			func(_ *uncertainty.Input, a *capture.Accuracy) { a.Digits += more },
			func(_ *uncertainty.Input, a *capture.Accuracy) { a.Resolution += more },
			func(_ *uncertainty.Input, a *capture.Accuracy) { a.PerKelvin += more },
			func(in *uncertainty.Input, _ *capture.Accuracy) { hotter := room + 1000*more; in.Ambient = &hotter },
			func(in *uncertainty.Input, _ *capture.Accuracy) { in.Lead += more },
			func(in *uncertainty.Input, _ *capture.Accuracy) { in.SD += more },
			func(in *uncertainty.Input, _ *capture.Accuracy) { in.Effective /= 1 + more },
		} {
			wider, worse := in, acc
			grow(&wider, &worse)
			if got := u(wider, worse); got < was {
				t.Fatalf("component %d: %g became %g", i, was, got)
			}
		}
	})
}

// Two readings of one instrument on one range have their gain in common: of
// their difference it leaves what goes with the difference, of a sum it adds.
func TestGainCancelsInADifference(t *testing.T) {
	a, b := stated(5, 0, 0), stated(4.9, 0, 0)
	d := uncertainty.Difference(a, b, true)
	// By hand: gain 0.001 · 0.1, offsets 0.001 each by squares, one count each.
	limit := 0.0001 + 0.001*math.Sqrt2
	near(t, "shared", d.Standard, math.Sqrt(limit*limit/3+2*1e-8/12), 1e-9)
	apart := uncertainty.Difference(a, b, false)
	near(t, "apart", apart.Standard, math.Sqrt(a.Standard*a.Standard+b.Standard*b.Standard), 1e-12)
	if sum := uncertainty.Linear(9.9, 0.0001, true, uncertainty.Term{Statement: a, Sensitivity: 1}, uncertainty.Term{Statement: b, Sensitivity: 1}); sum.Standard <= apart.Standard {
		t.Errorf("a sum of one meter's readings %g is no better than of two meters' %g", sum.Standard, apart.Standard)
	}
	q := uncertainty.Linear(1, 0, true, uncertainty.Term{Statement: a, Sensitivity: 1.0 / 5}, uncertainty.Term{Statement: a, Sensitivity: -1.0 / 5})
	near(t, "ratio: offsets and counts only", q.Standard, math.Sqrt(2*1e-6/3+2*1e-8/12)/5, 1e-9)
	if len(d.Notes) != 1 || d.Notes[0] != uncertainty.Assumed {
		t.Errorf("notes %q", d.Notes)
	}
	if x := uncertainty.Difference(a, uncertainty.Statement{Value: 5}, true); x.Stated || x.Expanded != 0 {
		t.Errorf("a difference to what is indicated only: %+v", x)
	}
}

// What is shared may help a difference, never a single reading; what scatters
// is not shared.
func TestLinearOfOneIsTheStatement(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := stated(rapid.Float64Range(-10, 10).Draw(t, "v"), rapid.Float64Range(1e-6, 0.1).Draw(t, "sd"), rapid.Float64Range(0, 99).Draw(t, "n"))
		one := uncertainty.Linear(s.Value, s.Resolution, true, uncertainty.Term{Statement: s, Sensitivity: 1})
		if math.Abs(one.Expanded-s.Expanded) > 1e-9*s.Expanded {
			t.Fatalf("%g and %g", one.Expanded, s.Expanded)
		}
		d := uncertainty.Difference(s, s, true)
		if d.TypeA < s.TypeA || d.Standard > 1.5*s.Standard {
			t.Fatalf("of itself %g, alone %g", d.Standard, s.Standard)
		}
	})
}

// En after ISO 13528: 0.1 apart with U of 0.06 and 0.08 is exactly 1.
func TestEn(t *testing.T) {
	for _, c := range []struct {
		x1, u1, x2, u2, want float64
		ok                   bool
	}{{5, 0.06, 5.1, 0.08, 1, true}, {5.1, 0.08, 5, 0.06, 1, true}, {5, 0.05, 5, 0, 0, true}, {5, 0.3, 5.2, 0.4, 0.4, true}, {5, 0, 5.1, 0, 0, false}} {
		got, ok := uncertainty.En(c.x1, c.u1, c.x2, c.u2)
		if ok != c.ok || math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%+v: %g, %v", c, got, ok)
		}
	}
}

func TestCoarseMeterIsSaidAloud(t *testing.T) {
	band := capture.Bounds{Low: 4.9, High: 5.1}
	for u, want := range map[float64]string{
		0.025: "", 0.0256: "a quarter of", 0.033: "a third of", 0.052: "half the band is “cannot tell” with this meter (ratio 1.9:1)", 0.065: "two thirds of", 0.08: "three quarters of", 0.095: "nearly all of", 0.1: "all of", 0.4: "all of the band is “cannot tell” with this meter (ratio 0.2:1)",
	} {
		got := uncertainty.Aloud(u, band)
		if (want == "") != (got == "") || !strings.HasPrefix(got, want) {
			t.Errorf("U %g: %q, want %q", u, got, want)
		}
	}
	near(t, "share", uncertainty.GuardShare(0.052, band), 0.52, 1e-12)
	near(t, "capped", uncertainty.GuardShare(0.4, band), 1, 0)
	if _, ok := uncertainty.Ratio(0.05, capture.Bounds{Low: 4.9, High: math.Inf(1)}); ok || uncertainty.Aloud(0.05, capture.NoBounds()) != "" || uncertainty.GuardShare(0, band) != 0 {
		t.Error("a ratio to an open band")
	}
}
