package uncertainty_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// handheld is a usual meter: 0.5 % of reading and 2 counts of 10 mV.
var handheld = []capture.Accuracy{{Range: 20, OfReading: 0.005, Digits: 2, Resolution: 0.01}}

// Computed by hand: at 5 V, a = 45 mV and U = 52 mV.
func TestStateTheHandheldAtFiveVolts(t *testing.T) {
	s := uncertainty.State(uncertainty.Input{Value: 5, Resolution: 0.01, Accuracy: handheld, Unit: capture.Volt})
	if math.Abs(s.Limit-0.045) > 1e-12 || math.Abs(s.Expanded-0.052) > 0.0005 || !s.Stated || len(s.Notes) != 0 {
		t.Errorf("a = %g, U = %g, notes %q", s.Limit, s.Expanded, s.Notes)
	}
	// By hand: sqrt(0.045²/3 + 0.01²/12) = 0.026141
	if math.Abs(s.Standard-0.026141) > 1e-6 || s.TypeA != 0 || s.TypeB != s.Standard {
		t.Errorf("u = %g, type B %g, type A %g", s.Standard, s.TypeB, s.TypeA)
	}
}

func TestStateAddsEveryTerm(t *testing.T) {
	hot := 33.0 // five kelvin outside
	s := uncertainty.State(uncertainty.Input{Value: -10, Resolution: 0.001, Range: 10, Lead: 0.004, SD: 0.03, Effective: 9, Ambient: &hot, Unit: capture.Volt,
		Accuracy: []capture.Accuracy{{Range: 10, OfReading: 0.0005, OfRange: 0.0002, Digits: 3, Resolution: 0.001, PerKelvin: 0.0001}}})
	limit := 0.005 + 0.002 + 0.003
	want := math.Sqrt(limit*limit/3 + 1e-6/12 + math.Pow(0.0001*5*10, 2)/3 + 0.004*0.004 + 0.03*0.03/9)
	if math.Abs(s.Limit-limit) > 1e-12 || math.Abs(s.Standard-want) > 1e-12 || s.Expanded != s.Coverage*s.Standard || len(s.Notes) != 0 {
		t.Errorf("a = %g, u = %g, want %g and %g; notes %q", s.Limit, s.Standard, limit, want, s.Notes)
	}
	// By hand: 8 (u/0.01)⁴ = 19.9, truncated to 19: 2.14 (GUM, table G.2).
	if s.Coverage != 2.14 {
		t.Errorf("k = %g", s.Coverage)
	}
}

func TestAmbient(t *testing.T) {
	acc := []capture.Accuracy{{Range: 10, OfReading: 0.001, Resolution: 0.001, PerKelvin: 0.001}}
	u := func(ambient *float64) (float64, []string) {
		s := uncertainty.State(uncertainty.Input{Value: 10, Range: 10, Accuracy: acc, Ambient: ambient})
		return s.Standard, s.Notes
	}
	at := func(v float64) *float64 { return &v }
	assumed, notes := u(nil)
	if !slices.Contains(notes, uncertainty.Assumed) {
		t.Errorf("notes %q", notes)
	}
	for _, c := range []float64{18, 23, 28} {
		if got, notes := u(at(c)); got != assumed || len(notes) != 0 {
			t.Errorf("at %g °C: %g, %q", c, got, notes)
		}
	}
	cold, _ := u(at(8))
	warm, _ := u(at(38))
	if cold != warm || math.Abs(cold*cold-assumed*assumed-0.01*0.01*100/3) > 1e-12 { // 10 K of 0.1 % on 10 V
		t.Errorf("at 8 °C %g, at 38 °C %g, assumed %g", cold, warm, assumed)
	}
}

// ranged has three ranges, two with the same digits.
var ranged = []capture.Accuracy{
	{Range: 2, OfReading: 0.001, OfRange: 0.0005, Resolution: 0.0001},
	{Range: 20, OfReading: 0.001, OfRange: 0.0005, Resolution: 0.001},
	{Range: 30, OfReading: 0.002, OfRange: 0.0005, Resolution: 0.001},
}

func TestWhichRange(t *testing.T) {
	for _, c := range []struct {
		name                string
		v, resolution, rang float64
		want                float64
		note                string
	}{
		{"told", 1.5, 0.001, 20, 20, ""},
		{"by its digits", 1.5, 0.0001, 0, 2, ""},
		{"by its digits, two fit: the larger u", 5, 0.001, 0, 30, "range not told, 20 V and 30 V fit: took 30 V"},
		{"only one holds it", 31, 0, 0, 30, ""},
		{"digits of no range, by value", 1.5, 0.5, 0, 30, "range not told, 2 V, 20 V and 30 V fit: took 30 V"},
		{"a range that is not listed", 5, 0.001, 10, 30, "no accuracy stated for the range of 10 V: took 30 V"},
		{"too much for the finer one", 2.5, 0.0001, 0, 30, "20 V and 30 V fit"},
	} {
		s := uncertainty.State(uncertainty.Input{Value: c.v, Resolution: c.resolution, Range: c.rang, Accuracy: ranged, Unit: capture.Volt})
		if !s.Stated || s.Accuracy.Range != c.want || !strings.Contains(strings.Join(s.Notes, "; "), c.note) || c.note == "" && len(s.Notes) > 0 {
			t.Errorf("%s: range %g, notes %q; want %g and %q", c.name, s.Accuracy.Range, s.Notes, c.want, c.note)
		}
	}
}

func TestNothingStated(t *testing.T) {
	for says, in := range map[string]uncertainty.Input{
		"no accuracy stated":            {Value: 5, SD: 0.1, Effective: 4},
		"no accuracy stated: indicated": {Value: 5, SD: 0.1, Effective: 4, Accuracy: []capture.Accuracy{{Range: 20, Resolution: 0.01}}}, // a range is no statement
		"above every range":             {Value: 500, SD: 0.1, Effective: 4, Accuracy: ranged},
		"for the range of 100 V: indic": {Value: 5, SD: 0.1, Effective: 4, Range: 100, Accuracy: ranged, Unit: capture.Volt},
	} {
		s := uncertainty.State(in)
		if s.Stated || s.Expanded != 0 || s.TypeA != 0.05 || len(s.Notes) != 1 || !strings.Contains(s.Notes[0], says) || !strings.Contains(s.Notes[0], "indicated only") {
			t.Errorf("%s: %+v", says, s)
		}
	}
	if s := uncertainty.State(uncertainty.Input{Value: math.NaN(), Accuracy: handheld}); s.Stated || s.Notes[0] != "no value" {
		t.Errorf("no number: %+v", s)
	}
}

func TestOfAReading(t *testing.T) {
	r := capture.Reading{Quantity: capture.Resistance, Value: 0.84, Resolution: 0.01, Range: 200}
	in := uncertainty.Of(r, handheld)
	if in.Value != 0.84 || in.Resolution != 0.01 || in.Range != 200 || in.Unit != capture.Ohm || len(in.Accuracy) != 1 {
		t.Errorf("%+v", in)
	}
}

// However many readings are averaged, U of the mean is never below the part
// that the meter's own error makes.
func TestAveragingNeverShrinksTypeB(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := uncertainty.Input{
			Value: rapid.Float64Range(-30, 30).Draw(t, "value"), Accuracy: ranged, Unit: capture.Volt, Lead: rapid.Float64Range(0, 0.1).Draw(t, "lead"),
			Resolution: rapid.SampledFrom([]float64{0, 0.0001, 0.001, 0.01}).Draw(t, "resolution"), SD: rapid.Float64Range(0, 1).Draw(t, "sd"),
		}
		single := in
		single.SD = 0
		floor := uncertainty.State(single)
		last := math.Inf(1)
		for _, n := range []float64{0, 1, 10, 144_000, 1e12} {
			in.Effective = n
			s := uncertainty.State(in)
			if s.Expanded < floor.Expanded || s.TypeB != floor.TypeB || s.Expanded > last {
				t.Fatalf("n_eff %g: U %g, alone %g, before %g", n, s.Expanded, floor.Expanded, last)
			}
			last = s.Expanded
		}
	})
}
