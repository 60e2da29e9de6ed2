package block

import (
	"math"
	"testing"
)

// oddTexts are texts as instruments send them, and some that none should.
var oddTexts = []string{
	"", "5.0120E+00", "+5.01200E+00", "-5.01200E+00", "-0.0000E+00", "+0.0000E+00", "0", "-0", "5", "5.", ".5", "-.5", "005.01", "-005.01", "000",
	"1e400", "-1e400", "1e-400", "1e9999", "1e99999", "OL", "-", "+", ".", "+.", "e5", "E", "5e", "5e+", "5E+00 ", " 5", "1.2.3", "--5", "+-5", "5,0", "0x1p3",
	"999999999999999999", "9999999999999999999", "9007199254740993", "0.000000000000000001", "0.0000000000000000001", "9.9E37", "12345678901234567e-30", "4.9e-324", "2.5e-324",
	"\x00", "\xff\xfe", "5.0120E+0", "5.0120e-3", "٣",
}

// TestTexts says which texts are digits after a pattern, and what their value
// is. The others are kept as they are, which TestWild checks.
func TestTexts(t *testing.T) {
	for _, c := range []struct {
		text                string
		sign, whole, places int
		point               bool
		suffix              string
		digits              int64
		value               float64
	}{
		{"5.0120E+00", signPlain, 1, 4, true, "E+00", 50120, 5.012},
		{"+5.01200E+00", signPlus, 1, 5, true, "E+00", 501200, 5.012},
		{"-5.012e-3", signPlain, 1, 3, true, "e-3", -5012, -5.012e-3},
		{"-0.0000E+00", signMinus, 1, 4, true, "E+00", 0, 0},
		{"5", signPlain, 1, 0, false, "", 5, 5},
		{"5.", signPlain, 1, 0, true, "", 5, 5},
		{".5", signPlain, 0, 1, true, "", 5, 0.5},
		{"005.01", signPlain, 3, 2, true, "", 501, 5.01},
		{"125.01", signPlain, 1, 2, true, "", 12501, 125.01},
		{"000", signPlain, 3, 0, false, "", 0, 0},
		{"9007199254740993", signPlain, 1, 0, false, "", 9007199254740993, 9007199254740992},
		{"4.9e-324", signPlain, 1, 1, true, "e-324", 49, 5e-324},
		{"1e400", signPlain, 1, 0, false, "e400", 1, math.Inf(1)},
		{"1e-400", signPlain, 1, 0, false, "e-400", 1, 0},
		{"1e23", signPlain, 1, 0, false, "e23", 1, 1e23},
	} {
		p, m, ok := patternOf(c.text)
		want := pattern{sign: c.sign, whole: c.whole, places: c.places, point: c.point, suffix: c.suffix, power: p.power}
		if !ok || p != want || m != c.digits {
			t.Errorf("%q is %+v with %d, %v; want %+v with %d", c.text, p, m, ok, want, c.digits)
		}
		if got := string(p.append(nil, m)); got != c.text {
			t.Errorf("%q comes back as %q", c.text, got)
		}
		if got := p.value(m); math.Float64bits(got) != math.Float64bits(c.value) {
			t.Errorf("%q is worth %v, want %v", c.text, got, c.value)
		}
	}
	for _, text := range []string{"", "OL", "-", ".", "+.", "E5", "5e", "5e+", " 5", "5 ", "1.2.3", "--5", "5,0", "1e99999", "9999999999999999999"} {
		if p, m, ok := patternOf(text); ok {
			t.Errorf("%q is taken for %+v with %d", text, p, m)
		}
	}
}
