package capture_test

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

func TestTextForPeople(t *testing.T) {
	for _, c := range []struct {
		unit          capture.Unit
		v, resolution float64
		want          string
	}{
		{capture.Ohm, 0.84, 0.01, "0.84 Ω"},
		{capture.Ohm, 1923, 10, "1.92 kΩ"},
		{capture.Ohm, 1923, 1, "1.923 kΩ"},
		{capture.Ohm, 1923, 100, "1.9 kΩ"},
		{capture.Ohm, 12.34e6, 1e4, "12.34 MΩ"},
		{capture.Ohm, 0.0123, 0.0001, "12.3 mΩ"},
		{capture.Ohm, 0.03, 0.01, "0.03 Ω"}, // 30 mΩ would claim a digit more
		{capture.Ohm, 999.96, 0.1, "1.0000 kΩ"},
		{capture.Volt, 5.012, 0.001, "5.012 V"},
		{capture.Volt, 0.12, 0.01, "0.12 V"},
		{capture.Volt, 0.012, 0.001, "12 mV"},
		{capture.Volt, 0.0123456, 1e-7, "12.3456 mV"},
		{capture.Volt, 0.000012, 1e-7, "12.0 µV"},
		{capture.Volt, -12.14, 0.01, "\u221212.14 V"},
		{capture.Volt, -0.0004, 0.001, "0.000 V"}, // no minus on a zero
		{capture.Volt, 0, 0.001, "0.000 V"},
		{capture.Volt, 5, 0, "5 V"}, // declared, not measured
		{capture.Volt, 4.65, 0, "4.65 V"},
		{capture.Volt, 1.0 / 3, 0, "0.333333 V"},
		{capture.Farad, 47e-6, 1e-6, "47 µF"},
		{capture.Farad, 1000e-6, 1e-6, "1000 µF"},
		{capture.Farad, 100e-9, 1e-9, "100 nF"},
		{capture.Ampere, 0.3, 0.001, "0.300 A"},
		{capture.Ampere, 0.0123, 1e-4, "12.3 mA"},
		{capture.Hertz, 67e3, 100, "67.0 kHz"},
		{capture.Celsius, 23.46, 0.1, "23.5 °C"},
		{capture.Celsius, 1234, 1, "1234 °C"},
		{capture.Second, 0.02, 0.001, "20 ms"},
		{capture.One, 0.871, 0.01, "0.87"},
		{capture.Volt, math.NaN(), 0.001, "no value"},
		{capture.Volt, math.Inf(1), 0.001, "no value"},
		{capture.Ohm, math.Inf(-1), 0, "no value"},
	} {
		if got := c.unit.Text(c.v, c.resolution); got != c.want {
			t.Errorf("Text(%g, %g) = %q, want %q", c.v, c.resolution, got, c.want)
		}
	}
}

func TestFigure(t *testing.T) {
	for _, c := range []struct {
		v, resolution float64
		want          string
	}{
		{5.02, 0.001, "5.020"}, {-5.02, 0.01, "\u22125.02"}, {1923, 10, "1920"}, {1923, 1000, "2000"},
		{0.002, 0.002, "0.002"}, {3.14159, 0.5, "3.1"}, {0, 0, "0"}, {123456.7, 0, "123457"}, {math.NaN(), 1, "no value"},
	} {
		if got := capture.Figure(c.v, c.resolution); got != c.want {
			t.Errorf("Figure(%g, %g) = %q, want %q", c.v, c.resolution, got, c.want)
		}
	}
}

// A printed figure never tells more than the resolution, nor moves the value
// by more than half a count.
func TestTextKeepsToTheResolution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom([]capture.Unit{capture.Volt, capture.Ampere, capture.Ohm, capture.Hertz, capture.Celsius, capture.Watt}).Draw(t, "unit")
		power := rapid.IntRange(-7, 3).Draw(t, "power")
		count := rapid.IntRange(-999_999, 999_999).Draw(t, "count")
		resolution := math.Pow10(power)
		v, _ := strconv.ParseFloat(strconv.Itoa(count)+"e"+strconv.Itoa(power), 64)
		text := u.Text(v, resolution)
		back, step, err := u.ParseTyped(text, capture.Point)
		if err != nil {
			t.Fatalf("%g at %g printed as %q, which cannot be read: %v", v, resolution, text, err)
		}
		// What is allowed is the error of binary fractions, not a digit.
		if math.Abs(back-v) > 1e-9*math.Abs(v) {
			t.Fatalf("%g at %g printed as %q reads as %g", v, resolution, text, back)
		}
		// Noughts before the point are places, not digits.
		if strings.Contains(text, ".") && count != 0 && step < resolution*(1-1e-9) {
			t.Fatalf("%g at %g printed as %q, one count is %g", v, resolution, text, step)
		}
	})
}

func FuzzTextIsNeverWild(f *testing.F) {
	f.Add(5.0, 0.001, uint8(1))
	f.Add(math.MaxFloat64, math.SmallestNonzeroFloat64, uint8(3))
	f.Fuzz(func(t *testing.T, v, resolution float64, unit uint8) {
		s := (capture.Unit(unit % 9)).Text(v, resolution)
		if strings.Contains(s, "-") || strings.Contains(s, "NaN") || strings.Contains(s, "Inf") || len(s) > 400 {
			t.Errorf("Text(%g, %g) = %q", v, resolution, s)
		}
	})
}

func TestParseTyped(t *testing.T) {
	const nbsp = "\u00a0"
	for _, c := range []struct {
		unit          capture.Unit
		text          string
		mark          capture.DecimalMark
		v, resolution float64
	}{
		{capture.Volt, "5.02", capture.Point, 5.02, 0.01},
		{capture.Volt, "5,02", capture.Point, 5.02, 0.01},
		{capture.Volt, "5,02", capture.Comma, 5.02, 0.01},
		{capture.Volt, "5.02", capture.Comma, 5.02, 0.01},
		{capture.Volt, "5.02 V", capture.Point, 5.02, 0.01},
		{capture.Volt, "5.020V", capture.Point, 5.02, 0.001},
		{capture.Volt, " 120 mV ", capture.Point, 0.12, 0.001},
		{capture.Volt, "120mv", capture.Point, 0.12, 0.001},
		{capture.Volt, "-12.1", capture.Point, -12.1, 0.1},
		{capture.Volt, "\u221212.1" + nbsp + "V", capture.Point, -12.1, 0.1},
		{capture.Volt, "+5", capture.Point, 5, 1},
		{capture.Volt, "0,125", capture.Point, 0.125, 0.001}, // no group of thousands begins with 0
		{capture.Volt, "5,0125", capture.Point, 5.0125, 0.0001},
		{capture.Volt, "1,234", capture.Comma, 1.234, 0.001},
		{capture.Volt, "1.234", capture.Point, 1.234, 0.001},
		{capture.Volt, "5 volts", capture.Point, 5, 1},
		{capture.Ohm, "4.7 kohm", capture.Point, 4700, 100},
		{capture.Ohm, "4,7 kΩ", capture.Point, 4700, 100},
		{capture.Ohm, "4.7 k\u2126", capture.Point, 4700, 100}, // the ohm sign
		{capture.Ohm, "4.7K", capture.Point, 4700, 100},
		{capture.Ohm, "0.84 R", capture.Point, 0.84, 0.01},
		{capture.Ohm, "1.2e3", capture.Point, 1200, 100},
		{capture.Ohm, "1 Mohm", capture.Point, 1e6, 1e6},
		{capture.Ohm, "12 mohm", capture.Point, 0.012, 0.001},
		{capture.Farad, "47uF", capture.Point, 47e-6, 1e-6},
		{capture.Farad, "47 \u03bcF", capture.Point, 47e-6, 1e-6},
		{capture.Celsius, "23.5 degC", capture.Point, 23.5, 0.1},
		{capture.Celsius, "-3 °C", capture.Point, -3, 1},
		{capture.One, "87 %", capture.Point, 0.87, 0.01},
		{capture.Second, "20 ms", capture.Point, 0.02, 0.001},
		{capture.Hertz, "67 kHz", capture.Point, 67000, 1000},
	} {
		v, resolution, err := c.unit.ParseTyped(c.text, c.mark)
		if err != nil || v != c.v || resolution != c.resolution {
			t.Errorf("%q (%s): got %g, %g, %v; want %g, %g", c.text, c.mark, v, resolution, err, c.v, c.resolution)
		}
	}
}

func TestParseTypedRefuses(t *testing.T) {
	for _, c := range []struct {
		unit capture.Unit
		text string
		mark capture.DecimalMark
		says string
	}{
		{capture.Volt, "1,234", capture.Point, "could be 1.234 or 1234"},
		{capture.Volt, "-12,345 V", capture.Point, "could be 12.345 or 12345"},
		{capture.Volt, "1.234", capture.Comma, "could be 1,234 or 1234"},
		{capture.Volt, "1,234.5", capture.Point, "without marks between thousands"},
		{capture.Volt, "", capture.Point, "nothing was typed"},
		{capture.Volt, "V", capture.Point, "begin with a figure"},
		{capture.Volt, "5 A", capture.Point, "write 5.02"},
		{capture.Volt, "5 MV", capture.Point, "not a unit of this bench"},
		{capture.Volt, "5 ohm", capture.Point, "not a unit for this"},
		{capture.Ohm, "10 m", capture.Point, "could be read two ways"},
		{capture.Ohm, "10M", capture.Point, "could be read two ways"},
		{capture.Hertz, "10 mHz", capture.Point, "not a unit of this bench"},
		{capture.Volt, "1 234", capture.Point, ""},
		{capture.Volt, "0x1F", capture.Point, ""},
		{capture.Volt, "0x1p4", capture.Point, ""},
		{capture.Volt, "1_000", capture.Point, ""},
		{capture.Volt, "inf", capture.Point, ""},
		{capture.Volt, "NaN", capture.Point, ""},
		{capture.Volt, "1e999", capture.Point, "beyond"},
		{capture.Volt, "1e-999", capture.Point, "beyond"},
		{capture.Volt, "1e99999999999", capture.Point, ""},
		{capture.Volt, "--5", capture.Point, ""},
		{capture.Volt, "5..0", capture.Point, ""},
		{capture.One, "5 k", capture.Point, ""},
	} {
		v, _, err := c.unit.ParseTyped(c.text, c.mark)
		if !errors.Is(err, capture.ErrNotANumber) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: got %g and %v, want a refusal with %q", c.text, v, err, c.says)
		}
	}
}

func FuzzParseTyped(f *testing.F) {
	for _, s := range []string{"5.02", "5,02 V", "1,234", "120 mV", "\u221212.1", "1e3", "0x1p-2", "4.7 kΩ", "∞", "\xff"} {
		f.Add(s, uint8(1), true)
	}
	f.Fuzz(func(t *testing.T, s string, unit uint8, comma bool) {
		mark := capture.Point
		if comma {
			mark = capture.Comma
		}
		v, resolution, err := (capture.Unit(unit % 9)).ParseTyped(s, mark)
		if err != nil {
			if !errors.Is(err, capture.ErrNotANumber) || v != 0 || resolution != 0 {
				t.Fatalf("%q: %g, %g, %v", s, v, resolution, err)
			}
			return
		}
		if math.IsNaN(v) || math.IsInf(v, 0) || !(resolution > 0) || !strings.ContainsAny(s, "0123456789") {
			t.Fatalf("%q gave %g, %g", s, v, resolution)
		}
	})
}

func TestDecimalMark(t *testing.T) {
	for _, m := range []capture.DecimalMark{capture.Point, capture.Comma} {
		text, _ := m.MarshalText()
		var back capture.DecimalMark
		if err := back.UnmarshalText(text); err != nil || back != m {
			t.Errorf("%s came back as %s, %v", m, back, err)
		}
	}
	if _, err := capture.ParseDecimalMark("dot"); err == nil {
		t.Error("dot was taken for a decimal mark")
	}
	if got := capture.Comma.Write("5.012 V"); got != "5,012 V" {
		t.Errorf("with a comma: %q", got)
	}
}

func TestTrueMinus(t *testing.T) {
	for in, want := range map[string]string{
		"-12 V audio": "\u221212 V audio", "band -12 V audio": "band \u221212 V audio", "take-in": "take-in", "AB-0147": "AB-0147", "a - b": "a - b", "": "",
	} {
		if got := capture.TrueMinus(in); got != want {
			t.Errorf("TrueMinus(%q) = %q, want %q", in, got, want)
		}
	}
}
