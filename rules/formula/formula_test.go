package formula

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"steadyrail/capture"
)

// bench is what the channels of the tests measure.
var bench = map[capture.ChannelID]capture.Quantity{
	"supply/volts": capture.DCVoltage, "supply/amperes": capture.DCCurrent, "dmm/volts": capture.DCVoltage, "dmm/ohms": capture.Resistance,
	"bench-load/amperes-1": capture.DCCurrent, "thermo/celsius": capture.Temperature, "air/celsius": capture.Temperature,
	"dmm/hertz": capture.Frequency, "dmm/farads": capture.Capacitance, "load/watts": capture.Power,
}

func quantities(id capture.ChannelID) (capture.Quantity, bool) { q, ok := bench[id]; return q, ok }

// TestComesTo holds units against the definitions of the SI: W = V·A,
// ohm = V/A, F = A·s/V, Hz = 1/s (SI brochure, 9th edition, table 4).
func TestComesTo(t *testing.T) {
	for text, unit := range map[string]string{
		"supply/volts * supply/amperes":                              "W",
		"dmm/volts / supply/amperes":                                 "ohm",
		"dmm/volts * supply/amperes / (supply/volts*supply/amperes)": "1",
		"(supply/volts - dmm/volts) / 0.1 ohm":                       "A",
		"dmm/volts / 47 kohm":                                        "A",
		"sqrt(load/watts * dmm/ohms)":                                "V",
		"dmm/ohms * dmm/farads":                                      "s",
		"1 / (dmm/ohms * dmm/farads)":                                "Hz",
		"1 / dmm/hertz":                                              "s",
		"thermo/celsius - air/celsius":                               "K",
		"thermo/celsius + 5 K":                                       "degC",
		"5 K + thermo/celsius":                                       "degC",
		"air/celsius + (thermo/celsius - air/celsius) / 2":           "degC",
		"max(thermo/celsius, air/celsius, 25 °C)":                    "degC",
		"abs(thermo/celsius - air/celsius) / 1 K":                    "1",
		"min(supply/volts, 5 V, dmm/volts)":                          "V",
		`"bench-load/amperes-1" * 1 mΩ`:                              "V",
		"-supply/volts":                                              "V",
		"50 % * dmm/volts":                                           "V",
		"load/watts / dmm/volts - supply/amperes":                    "A",
	} {
		e, err := Parse(text)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if err := e.CheckUnit(quantities, unit); err != nil {
			t.Errorf("%s: %v", text, err)
		}
	}
}

// TestMistakes says for each what the person reads, and where the caret stands.
func TestMistakes(t *testing.T) {
	for _, c := range []struct {
		text, unit string
		column     int
		say        string
	}{
		{"supply/volts + supply/amperes", "V", 14, "A cannot be added to V"},
		{"supply/volts - supply/amperes", "V", 14, "A cannot be subtracted from V"},
		{"supply/volts - 1", "V", 14, "a plain number cannot be subtracted from V"},
		{"supply/volts * supply/amperes", "V", 14, "comes to W, and the unit says V"},
		{"supply/volts", "1", 1, "comes to V, and the unit says a plain number"},
		{"dmm/volts*dmm/volts*1 s", "W", 20, "comes to V^2*s"},
		{"thermo/celsius + air/celsius", "degC", 16, "mean"},
		{"thermo/celsius * 2", "degC", 16, "no multiple"},
		{"2 / thermo/celsius", "1", 3, "no multiple"},
		{"-thermo/celsius", "degC", 1, "no opposite"},
		{"abs(thermo/celsius)", "degC", 1, "means nothing"},
		{"sqrt(thermo/celsius)", "degC", 1, "means nothing"},
		{"5 K - thermo/celsius", "degC", 5, "degC cannot be subtracted from K"},
		{"max(thermo/celsius, 25 K)", "degC", 1, "like with like, not degC with K"},
		{"sqrt(supply/volts)", "V", 1, "no square root"},
		{"scope/volts", "V", 1, "no channel scope/volts"},
		{"formula/power", "W", 1, "is a formula"},
		{"supply/volts/2", "V", 1, "division sign needs spaces"},
		{"supply/volts *", "V", 15, "ends here"},
		{"", "V", 1, "ends here"},
		{"(supply/volts", "V", 1, "not closed"},
		{"supply/volts)", "V", 13, "a sign"},
		{"supply/volts 2", "V", 14, "a sign"},
		{"volts", "V", 1, "write instrument/input"},
		{"sin(supply/volts)", "V", 1, "there are abs, sqrt, min and max"},
		{"abs supply/volts", "V", 1, "abs needs parentheses"},
		{"abs(supply/volts, 1 V)", "V", 1, "one argument, not 2"},
		{"min(supply/volts)", "V", 1, "two to eight arguments, not 1"},
		{"1,5 * supply/volts", "V", 2, "tenths stand behind a point"},
		{"5 furlong", "V", 3, `"furlong" is no unit`},
		{"5 MV", "V", 1, "MV is not a unit of this bench"},
		{"5 m", "V", 3, "no unit"},
		{`"supply/volts`, "V", 1, "not closed"},
		{`"supply"`, "V", 1, "no channel"},
		{"2 ^ 3", "1", 3, "no meaning here"},
		{"5 ° + 2", "1", 3, "no unit"},
		{"1 Ω + 5 ^", "ohm", 9, "no meaning here"},
		{"supply/volts\n", "V", 1, "no text"},
		{"1e999", "1", 1, "beyond"},
		{strings.Repeat("(", 60) + "1", "1", MostDepth + 1, "nest more than"},
		{strings.Repeat("-", 60) + "1", "1", MostDepth + 1, "nest more than"},
		{"1" + strings.Repeat("+1", 80), "1", 120, "more than 120 parts"},
		{strings.Repeat("1", MostText+1), "1", 1, "longer than"},
		{strings.Repeat("1 V*", 13) + "1 V", "V", 48, "beyond 12"},
	} {
		e, err := Parse(c.text)
		if err == nil {
			err = e.CheckUnit(quantities, c.unit)
		}
		var at *Error
		if !errors.As(err, &at) || at.Column != c.column || !strings.Contains(at.Say, c.say) {
			t.Errorf("%.60s: got %v, want column %d: %s", c.text, err, c.column, c.say)
		}
	}
}

func TestCaretStandsUnderThePlace(t *testing.T) {
	_, err := Parse("1 Ω + 5 ^")
	var at *Error
	if !errors.As(err, &at) || at.Caret() != "1 Ω + 5 ^\n        ^" {
		t.Errorf("%q", at.Caret())
	}
	if got := (&Error{Text: "a\nb", Column: 1}).Caret(); got != "" {
		t.Errorf("of no text: %q", got)
	}
}

func TestEval(t *testing.T) {
	for _, c := range []struct {
		text string
		in   []Input
		want Result
	}{
		{"a/v * a/a", []Input{{Value: 12, Standard: 0.006, Resolution: 0.01}, {Value: 0.5, Standard: 0.002, Resolution: 0.001}}, Result{Value: 6, Resolution: 0.012, Standard: 0.0241867732449}},
		{"a/v / a/v", []Input{{Value: 12, Standard: 0.006, Resolution: 0.01}}, Result{Value: 1}},
		{"a/v - b/v", []Input{{Value: 5, Standard: 0.003, Resolution: 0.001}, {Value: 4.9, Standard: 0.004, Resolution: 0.01}}, Result{Value: 0.1, Resolution: 0.01, Standard: 0.005}},
		{"sqrt(a/w)", []Input{{Value: 4, Standard: 0.04, Resolution: 0.1}}, Result{Value: 2, Resolution: 0.025, Standard: 0.01}},
		{"sqrt(a/w)", []Input{{Value: 0, Standard: 0.04, Resolution: 0.1}}, Result{}},
		{"abs(a/v) + 120 mV", []Input{{Value: -3, Standard: 0.01}}, Result{Value: 3.12, Standard: 0.01}},
		{"max(a/v, b/v, 2)", []Input{{Value: 1, Standard: 9}, {Value: 3, Standard: 0.5}}, Result{Value: 3, Standard: 0.5}},
		{"min(a/v, b/v)", []Input{{Value: 1, Standard: 0.25}, {Value: 3, Standard: 0.5}}, Result{Value: 1, Standard: 0.25}},
		{"2 * -a/v / 10 %", []Input{{Value: 1, Standard: 0.25}}, Result{Value: -20, Standard: 5}},
	} {
		e, err := Parse(c.text)
		if err != nil {
			t.Fatal(err)
		}
		got, err := e.Eval(c.in)
		if err != nil || !near(got.Value, c.want.Value) || !near(got.Resolution, c.want.Resolution) || !near(got.Standard, c.want.Standard) {
			t.Errorf("%s: %+v, %v; want %+v", c.text, got, err, c.want)
		}
	}
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-12*max(1, math.Abs(b)) }

// TestNoValue: what is not finite is no figure, in the middle of it either.
func TestNoValue(t *testing.T) {
	for text, say := range map[string]string{
		"1 / a/v": "division by zero", "1 / (1 / a/v)": "division by zero", "sqrt(a/v - 1)": "negative",
		"1e15*1e15" + strings.Repeat("*1e15", 20): "beyond all measure", "0 / a/v": "division by zero",
	} {
		e, err := Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := e.Eval([]Input{{}}); err == nil || !strings.Contains(err.Error(), say) || !reflect.DeepEqual(got, Result{}) {
			t.Errorf("%s: %+v, %v", text, got, err)
		}
	}
}

func TestUnitsAreKnownBothWays(t *testing.T) {
	for _, u := range Units() {
		d, q, ok := ParseUnit(u)
		if !ok || u != "1" && d.String() != u {
			t.Errorf("%s: %s %v", u, d, ok)
		}
		if q != capture.NoQuantity && DimOf(q) != d {
			t.Errorf("%s: a %s is %s", u, q, DimOf(q))
		}
	}
	for _, q := range capture.Quantities() {
		if _, _, ok := ParseUnit("parsec"); ok || q != capture.Ratio && DimOf(q) == (Dim{}) {
			t.Errorf("%s has no dimension", q)
		}
	}
}
