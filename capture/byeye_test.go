package capture_test

import (
	"errors"
	"strings"
	"testing"

	"steadyrail/capture"
)

func TestMetersReadByEye(t *testing.T) {
	for meter, want := range map[string]capture.ChannelID{"": "by eye/volts AB-0147", "pocket": "pocket by eye/volts AB-0147", "by eye": "by eye by eye/volts AB-0147"} {
		ch := capture.ByEyeChannel(meter, capture.DCVoltage, "AB-0147")
		back, ok := ch.ByEyeMeter()
		if ch != want || back != meter || !ok || ch.Instrument() != capture.ByEyeName(meter) {
			t.Errorf("%q: %s, back %q %t", meter, ch, back, ok)
		}
	}
	for _, ch := range []capture.ChannelID{"dmm/volts", "", "eye/volts", "goodby eye/volts"} {
		if meter, ok := ch.ByEyeMeter(); ok || meter != "" {
			t.Errorf("%s: %q %t", ch, meter, ok)
		}
	}
}

func TestRailsByNumberOrName(t *testing.T) {
	rails, err := capture.ParseRails("+5 2% logic, -12 5% audio, 3.3 3% DSP")
	if err != nil {
		t.Fatal(err)
	}
	s := capture.Sheet{Rails: rails}
	for typed, want := range map[string]string{
		"1": "+5 V logic", " 2 ": "-12 V audio", "3": "+3.3 V DSP", "+5 v LOGIC": "+5 V logic", "\u221212 V audio": "-12 V audio", "-12 V audio": "-12 V audio",
	} {
		if r, err := s.FindRail(typed); err != nil || r.Name != want {
			t.Errorf("%q: %s %v", typed, r.Name, err)
		}
	}
	for _, typed := range []string{"", "0", "4", "01", "+9 V motor"} {
		if _, err := s.FindRail(typed); err == nil || !strings.Contains(err.Error(), "1 is +5 V logic, 2 is -12 V audio, 3 is +3.3 V DSP") {
			t.Errorf("%q: %v", typed, err)
		}
	}
	if _, err := (capture.Sheet{}).FindRail("1"); err == nil {
		t.Error("a job without rails has one")
	}
}

// Both readings are there as they must be typed, and each of them is taken.
func TestAmbiguousFiguresAreAskedBack(t *testing.T) {
	for _, c := range []struct {
		text                string
		mark                capture.DecimalMark
		fraction, thousands string
		a, b                float64
	}{
		{"1,234", capture.Point, "1.234", "1234", 1.234, 1234},
		{"-12,345 V", capture.Point, "-12.345 V", "-12345 V", -12.345, -12345},
		{"1.234 mV", capture.Comma, "1,234 mV", "1234 mV", 0.001234, 1.234},
	} {
		_, _, err := capture.Volt.ParseTyped(c.text, c.mark)
		var two *capture.Ambiguous
		if !errors.As(err, &two) || !errors.Is(err, capture.ErrNotANumber) || two.Fraction != c.fraction || two.Thousands != c.thousands {
			t.Errorf("%q: %v", c.text, err)
			continue
		}
		for text, want := range map[string]float64{two.Fraction: c.a, two.Thousands: c.b} {
			if v, _, err := capture.Volt.ParseTyped(text, c.mark); err != nil || v != want {
				t.Errorf("%q typed after the question: %g %v, want %g", text, v, err, want)
			}
		}
	}
	_, _, err := capture.Volt.ParseTyped("1,234 V", capture.Point)
	if want := "type 1.234 for the one and 1234 for the other"; !strings.Contains(err.Error(), want) {
		t.Errorf("%v, want %q", err, want)
	}
}
