package thermal_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/drivers/thermal"
)

const reference = "../../testdata/reference/temperature/"

func rows(t *testing.T, name string, least int) [][]string {
	t.Helper()
	f, err := os.Open(reference + name)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil || len(all) < least+1 {
		t.Fatalf("%s: %d rows, want %d: %v", name, len(all)-1, least, err)
	}
	return all[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

var couples = map[string]thermal.Thermocouple{"K": thermal.K, "J": thermal.J, "T": thermal.T}

// NIST ITS-90 Thermocouple Database (SRD 60), table values: the functions give
// them to the last digit printed, and come back from them within what half of
// that digit is worth.
func TestThermocouplesGiveThePublishedTable(t *testing.T) {
	for _, r := range rows(t, "thermocouple_spot_values.csv", 87) {
		tc, at, mv := couples[r[0]], number(t, r[1]), number(t, r[2])
		got, _ := tc.Millivolts(at)
		if math.Abs(got-mv) > 0.0005+1e-9 {
			t.Errorf("%s at %g °C: %.6f mV, the table has %g", r[0], at, got, mv)
		}
		if more := number(t, r[3]); math.Abs(got-more) > 1e-6 {
			t.Errorf("%s at %g °C: %.6f mV, want %.6f", r[0], at, got, more)
		}
		back := tc.Celsius(got/1000, 0)
		if back.Flags != 0 || math.Abs(back.Celsius-at) > 1e-4 {
			t.Errorf("%s: %.6f mV is %.4f °C (%v), want %g", r[0], got, back.Celsius, back.Flags, at)
		}
		rounded := tc.Celsius(mv/1000, 0)
		if f := rounded.Flags; f != 0 {
			if low, high := tc.Span(); at != low && at != high { // the last digit may lie beyond the end
				t.Errorf("%s: %g mV: %v", r[0], mv, f)
			}
			continue
		}
		if math.Abs(rounded.Celsius-at) > 0.00051e-3*back.Slope*1.1+1e-6 && at > -240 {
			t.Errorf("%s: %g mV is %.3f °C, want %g within half a digit", r[0], mv, rounded.Celsius, at)
		}
	}
}

// The published inverse functions state their own errors: −0.05 to 0.06 K
// (SRD 60). Their coefficients are therefore held against the functions.
func TestTheInverseIsAsGoodAsPublished(t *testing.T) {
	for name, tc := range couples {
		low, high := tc.Span()
		for at := max(low, -199.5); at <= high; at += 0.5 {
			mv, _ := tc.Millivolts(at)
			if got := thermal.Estimate(tc, mv); math.Abs(got-at) > 0.065 {
				t.Errorf("%s at %g °C: the inverse is %.3f off", name, at, got-at)
			}
		}
	}
}

func TestColdJunction(t *testing.T) {
	// The law of intermediate temperatures: 100 °C against 25 °C reads
	// E(100) − E(25) = 4.096 − 1.000 mV for type K (table values of SRD 60).
	if got := thermal.K.At(100, 25); math.Abs(got-3.096e-3) > 0.001e-3 {
		t.Errorf("type K, 100 °C against 25 °C: %.6f V", got)
	}
	got := thermal.K.Celsius(3.096e-3, 25)
	if got.Flags != 0 || math.Abs(got.Celsius-100) > 0.03 {
		t.Errorf("3.096 mV against 25 °C: %+v", got)
	}
	for _, cold := range []float64{math.NaN(), -41, 121, math.Inf(1)} {
		if got := thermal.K.Celsius(0, cold); got.Flags != capture.NotANumber || got.Celsius != 0 {
			t.Errorf("cold junction at %g: %+v", cold, got)
		}
	}
}

// IEC 60751:2008, table 1, in steps of 10 K.
func TestPlatinumGivesThePublishedTable(t *testing.T) {
	for _, r := range rows(t, "pt100_table.csv", 80) {
		at, ohms := number(t, r[0]), number(t, r[1])
		pt := thermal.Platinum{R0: 100}
		got := pt.At(at, 0)
		if math.Abs(got-ohms) > 0.005+1e-9 || math.Abs(got-number(t, r[2])) > 1e-4 {
			t.Errorf("Pt100 at %g °C: %.4f Ω, the table has %g", at, got, ohms)
		}
		if back := pt.Celsius(got, 0); back.Flags != 0 || math.Abs(back.Celsius-at) > 1e-6 {
			t.Errorf("%.4f Ω is %+v, want %g", got, back, at)
		}
		if back := (thermal.Platinum{R0: 1000, Leads: 0.4}).Celsius(10*got+0.4, 0); math.Abs(back.Celsius-at) > 1e-6 {
			t.Errorf("Pt1000 with leads at %g °C: %+v", at, back)
		}
	}
}

type pairs struct {
	Platinum struct {
		Tolerance []struct {
			T float64 `json:"t"`
			A float64 `json:"A_degC"`
			B float64 `json:"B_degC"`
		} `json:"tolerance_table"`
	} `json:"pt100"`
	Steinhart struct {
		A, B, C  float64
		Computed []struct {
			R float64 `json:"R_ohm"`
			T float64 `json:"t_degC"`
		}
	} `json:"steinhart_hart"`
	Beta struct {
		Computed []struct {
			R25, B float64
			T      float64 `json:"t_degC"`
			R      float64 `json:"R_ohm"`
		}
	} `json:"beta_model"`
}

func readPairs(t *testing.T) pairs {
	t.Helper()
	var p pairs
	text, err := os.ReadFile(reference + "pt100_and_thermistor.json")
	if err == nil {
		err = json.Unmarshal(text, &p)
	}
	if err != nil || len(p.Steinhart.Computed) != 8 || len(p.Beta.Computed) != 5 || len(p.Platinum.Tolerance) != 5 {
		t.Fatalf("reference: %+v %v", p, err)
	}
	return p
}

func TestThermistorsGiveThePublishedPairs(t *testing.T) {
	p := readPairs(t)
	for _, c := range p.Steinhart.Computed {
		th := thermal.Thermistor{A: p.Steinhart.A, B: p.Steinhart.B, C: p.Steinhart.C}
		if got := th.Celsius(c.R, 0); got.Flags != 0 || math.Abs(got.Celsius-c.T) > 1e-4 {
			t.Errorf("%g Ω is %+v, want %g", c.R, got, c.T)
		}
		if got := th.At(c.T, 0); math.Abs(got-c.R) > 1e-5*c.R {
			t.Errorf("at %g °C %g Ω, want %g", c.T, got, c.R)
		}
	}
	for _, c := range p.Beta.Computed {
		th := thermal.Beta(c.R25, c.B, 0)
		if got := th.At(c.T, 0); math.Abs(got-c.R) > 2e-5*c.R {
			t.Errorf("at %g °C %.2f Ω, want %g", c.T, got, c.R)
		}
		if got := th.Celsius(c.R, 0); math.Abs(got.Celsius-c.T) > 1e-3 {
			t.Errorf("%g Ω is %+v, want %g", c.R, got, c.T)
		}
	}
}

// IEC 60751, classes A and B in kelvin, at the temperatures of the reference.
func TestPlatinumClasses(t *testing.T) {
	for _, c := range readPairs(t).Platinum.Tolerance {
		for class, want := range map[string]float64{"A": c.A, "B": c.B} {
			l, err := thermal.Class("pt100", class)
			if got := l.Of(c.T); err != nil || math.Abs(got-want) > 1e-9 {
				t.Errorf("class %s at %g °C: %g, want %g (%v)", class, c.T, got, want, err)
			}
		}
	}
	for _, bad := range [][2]string{{"pt100", "1"}, {"ntc", "A"}, {"thermocouple-j", "3"}} {
		if _, err := thermal.Class(bad[0], bad[1]); err == nil {
			t.Errorf("%v: no refusal", bad)
		}
	}
}

// sensors are all of them, with what a meter reads when the wire is broken or
// shorted.
var sensors = map[string]struct {
	thermal.Sensor
	open, short float64
}{
	"K":           {thermal.K, 0.2, -0.2},
	"J":           {thermal.J, 0.2, -0.2},
	"T":           {thermal.T, 0.2, -0.2},
	"Pt100":       {thermal.Platinum{R0: 100}, 1e6, 0},
	"Pt100 leads": {thermal.Platinum{R0: 100, Leads: 0.4}, 1e6, 0.4},
	"Pt1000":      {thermal.Platinum{R0: 1000}, 1e6, 0.1},
	"beta":        {thermal.Beta(10000, 3950, 0), 1e8, 0.1},
	"ntc":         {thermal.Thermistor{A: 0.001129148, B: 0.000234125, C: 8.76741e-08}, 1e8, 0},
}

func TestOutsideTheSpanIsAFlagAndNoNumber(t *testing.T) {
	for name, s := range sensors {
		for x, want := range map[float64]capture.Flags{
			s.open: capture.OverRange, s.short: capture.UnderRange,
			math.Inf(1): capture.OverRange, math.Inf(-1): capture.UnderRange, math.NaN(): capture.NotANumber,
		} {
			if got := s.Celsius(x, 23); got.Flags != want || got.Celsius != 0 || got.Slope != 0 {
				t.Errorf("%s at %g: %+v, want %v", name, x, got, want)
			}
		}
		low, high := s.Span()
		for _, at := range []float64{low - 1, high + 1, math.NaN()} {
			if got := s.At(at, 23); !math.IsNaN(got) {
				t.Errorf("%s at %g °C reads %g", name, at, got)
			}
		}
	}
}

// There and back, and the slope is what a small step shows.
func TestThereAndBack(t *testing.T) {
	for name, s := range sensors {
		t.Run(name, rapid.MakeCheck(func(t *rapid.T) {
			low, high := s.Span()
			at := rapid.Float64Range(max(low, -250)+1, high-1).Draw(t, "celsius")
			cold := rapid.Float64Range(thermal.ColdLow, thermal.ColdHigh).Draw(t, "cold")
			x := s.At(at, cold)
			got := s.Celsius(x, cold)
			if got.Flags != 0 || math.Abs(got.Celsius-at) > 1e-5 {
				t.Fatalf("%g °C reads %g, which is %+v", at, x, got)
			}
			step := (s.At(at+0.01, cold) - s.At(at-0.01, cold)) / 0.02
			if math.Abs(got.Slope*math.Abs(step)-1) > 2e-3 {
				t.Fatalf("at %g °C: slope %g K, a step shows %g", at, got.Slope, 1/math.Abs(step))
			}
		}))
	}
}

func FuzzCelsius(f *testing.F) {
	f.Add(4.096e-3, 0.0)
	f.Add(138.51, 23.5)
	f.Add(math.Inf(1), math.NaN())
	f.Fuzz(func(t *testing.T, x, cold float64) {
		for name, s := range sensors {
			got := s.Celsius(x, cold)
			low, high := s.Span()
			switch {
			case got.Flags != 0 && (got.Celsius != 0 || !got.Flags.Has(capture.NoValue)):
				t.Errorf("%s: a number under a flag: %+v", name, got)
			case got.Flags == 0 && !(got.Celsius >= low-1e-3 && got.Celsius <= high+1e-3 && got.Slope > 0):
				t.Errorf("%s: %g against %g is %+v", name, x, cold, got)
			}
		}
	})
}

var millivolts = []capture.Accuracy{
	{Range: 0.1, OfReading: 50e-6, OfRange: 50e-6, Resolution: 1e-7, Uncertainty: "invented"},
	{Range: 1, OfReading: 50e-6, OfRange: 30e-6, Resolution: 1e-6, Uncertainty: "invented"},
}

// Worked by hand: type K at 100 °C against 23 °C is about 3.18 mV, the meter's
// limit there 0.16 + 5 µV, and 41.4 µV/K make 0.125 K of it. Class 1 wire adds
// 1.5 K, a cold junction within 0.5 K about 0.5 · 40.5/41.4 K.
func TestAccuracyCarriesOver(t *testing.T) {
	class, err := thermal.Class("thermocouple-k", "1")
	if err != nil {
		t.Fatal(err)
	}
	c := thermal.Chain{Sensor: thermal.K, Limits: class, Cold: 23, Within: 0.5, Meter: millivolts}
	all := c.Accuracy()
	find := func(name float64) capture.Accuracy {
		for _, a := range all {
			if math.Abs(a.Range-name) < 1e-9*name {
				return a
			}
		}
		t.Fatalf("no statement for the range %v among %+v", name, all)
		return capture.Accuracy{}
	}
	fine, coarse := find(c.Range(90, 0.1)), find(c.Range(90, 1))
	if limit := fine.OfRange * fine.Range; math.Abs(limit-(1.5+0.125+0.49)) > 0.02 {
		t.Errorf("limit of error at 50 to 100 °C: %.3f K", limit)
	}
	if !(coarse.OfRange*coarse.Range > fine.OfRange*fine.Range+0.5) {
		t.Errorf("1 V range: %.3f K, 0.1 V range: %.3f K", coarse.OfRange*coarse.Range, fine.OfRange*fine.Range)
	}
	// 0.1 µV is worth 2.5 mK at 40 µV/K.
	if r := find(c.Range(20, 0.1)).Resolution; math.Abs(r-0.0026) > 0.0002 {
		t.Errorf("one count is %g K", r)
	}
	if got := c.Range(90, 0); got != 0 {
		t.Errorf("range not told: %g", got)
	}
	// Class 1 ends at 1000 °C: what is hotter has no statement that could be taken.
	for _, a := range all {
		for _, hot := range []float64{c.Range(1100, 0.1), c.Range(90, 10)} {
			if math.Abs(a.Range-hot) < 1e-6*hot || a.Range > hot {
				t.Errorf("%+v would be taken for the range %g", a, hot)
			}
		}
	}
	if got := (thermal.Chain{Sensor: thermal.K, Limits: class, Cold: 23}).Accuracy(); got != nil {
		t.Errorf("a meter that states nothing: %v", got)
	}
}
