package kind

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// TestRangeTooWide: while a meter changes its range its digits are no short, and no
// null is taken off them; in the range that fits the null counts again.
func TestRangeTooWide(t *testing.T) {
	s := dead(t)
	s.Act(at(0.6), &capture.Act{Verb: capture.ActNull, Value: 0.2})
	read := func(from, ohms, resolution float64) capture.Verdict {
		for x := 0.0; x < 1.5; x += 0.2 {
			s.Read(at(from+x), &capture.Reading{Quantity: capture.Resistance, Value: ohms, Resolution: resolution})
		}
		return s.Verdict()
	}
	for _, ohms := range []float64{-80, 0, 60} {
		v := read(1, ohms, 100)
		if v.Outcome != capture.ConditionalFail && v.Outcome != capture.ConditionalPass || s.Condition() == Present || v.Value != ohms {
			t.Errorf("%g Ω: %v %g %q", ohms, v.Outcome, v.Value, v.Say)
		}
		if say := plain(v.Say); strings.HasPrefix(say, "-") || !strings.Contains(say, "cannot tell, the last digit of this range is 0.1 kΩ") || !strings.Contains(say, "let the meter range down") {
			t.Errorf("%g Ω: %q", ohms, say)
		}
		s.lift()
		s.Beside(at(0.5), &capture.Reading{Quantity: capture.DCVoltage, Value: 0.001})
	}
	if v := read(4, 1.04, 0.001); v.Outcome != capture.Fail || plain(v.Say) != "0.840 Ω: short" {
		t.Errorf("%v %q", v.Outcome, v.Say)
	}
	s.lift()
	s.Beside(at(7), &capture.Reading{Quantity: capture.DCVoltage, Value: 0.001})
	if v := read(7.2, 4700, 1); v.Outcome != capture.Pass || v.Value != 4700 || !strings.Contains(v.Say, "not taken off") {
		t.Errorf("%v %g %q", v.Outcome, v.Value, v.Say)
	}
}
