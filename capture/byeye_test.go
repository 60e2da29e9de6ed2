package capture_test

import (
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"

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

func TestByEyeUnlikely(t *testing.T) {
	rails, err := capture.ParseRails("+5 2% logic, +12 5% audio, -12 5% audio, +10 2%, +48 ?")
	if err != nil {
		t.Fatal(err)
	}
	s := capture.Sheet{Rails: rails}
	for _, c := range []struct {
		rail       int
		v, res     float64
		other, pow int
		why        string // "": nobody is asked
	}{
		{rail: 1, v: 4.98, res: 0.01},
		{rail: 1, v: 5.29, res: 0.01},
		{rail: 1, v: 12.07, res: 0.01, other: 2, why: "far from"},
		{rail: 1, v: 11.39, res: 0.01}, // in nobody's band
		{rail: 1, v: -12.07, res: 0.01, other: 3, why: "wrong sign"},
		{rail: 2, v: -4.98, res: 0.01, why: "wrong sign"},
		{rail: 2, v: 10.5, res: 0.01}, // within three half-bands: low, not another
		{rail: 2, v: 10, res: 0.01, other: 4, why: "far from"},
		{rail: 1, v: 0.00498, res: 0.00001, pow: 3, why: "a thousandth"},
		{rail: 3, v: 0.01201, res: 0.00001, pow: 3, why: "a thousandth"},
		{rail: 1, v: 4980, res: 1, pow: -3, why: "996 times"},
		{rail: 1, v: 1234, res: 1, why: "247 times"},
		{rail: 1, v: 0, res: 0.01},
		{rail: 1, v: 0.01, res: 0.01},
		{rail: 4, v: 0.01, res: 0.01}, // a thousandth, but one count
		{rail: 1, v: -0.02, res: 0.01},
		{rail: 1, v: 47, res: 1, other: 5, why: "far from"},
	} {
		u, is := s.Unlikely(rails[c.rail-1], c.v, c.res)
		if is != (c.why != "") || u.Rail != c.other || u.Shift != c.pow || !strings.Contains(u.Why, c.why) {
			t.Errorf("%g V on %s: %+v, %v", c.v, rails[c.rail-1].Name, u, is)
		}
	}
	if _, is := s.Unlikely(capture.Rail{}, 5, 0.01); is {
		t.Error("a rail without a nominal")
	}
}

func TestByEyeMisspelt(t *testing.T) {
	known := []string{"pocket", "dmm", "Bench"}
	for word, want := range map[string]string{
		"poket": "pocket", "pokcet": "pocket", "POCKETS": "pocket", "pocket": "", "Pocket": "", "bench": "", "bensh": "Bench",
		"dm": "dmm", "d": "", "the old needle": "", "": "", "poe": "",
	} {
		if got := capture.Misspelt(word, known); got != want {
			t.Errorf("%q: %q, want %q", word, got, want)
		}
	}
}

// The distance of words is one (metric): none of a word to itself, the same both
// ways, and no way round is shorter.
func TestLettersOff(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringMatching(`[a-d]{0,6}`)
		a, b, c := word.Draw(t, "a"), word.Draw(t, "b"), word.Draw(t, "c")
		ab := capture.LettersOff(a, b)
		if (ab == 0) != (a == b) || ab != capture.LettersOff(b, a) || capture.LettersOff(a, c) > ab+capture.LettersOff(b, c) {
			t.Fatalf("%q %q %q: %d", a, b, c, ab)
		}
	})
	if d := capture.LettersOff("kitten", "sitting"); d != 3 { // the usual example, from memory
		t.Errorf("%d", d)
	}
}
