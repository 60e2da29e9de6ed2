package elementary

import (
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

// ulps is how many units in the last place of want got lies away from it.
func ulps(got float64, want *big.Float) float64 {
	near, _ := want.Float64()
	unit := math.Nextafter(math.Abs(near), math.Inf(1)) - math.Abs(near)
	d := new(big.Float).SetPrec(300).Sub(new(big.Float).SetFloat64(got), want)
	off, _ := d.Quo(d, new(big.Float).SetFloat64(unit)).Float64()
	return math.Abs(off)
}

// bigExp sums the series of e^(x/2^64) with 300 bits and squares it.
func bigExp(x float64) *big.Float {
	of := func(v float64) *big.Float { return new(big.Float).SetPrec(300).SetFloat64(v) }
	r := of(x)
	r.SetMantExp(r, -64)
	sum, term := of(1), of(1)
	for n := 1.0; n < 12; n++ {
		term.Quo(term.Mul(term, r), of(n))
		sum.Add(sum, term)
	}
	for range 64 {
		sum.Mul(sum, sum)
	}
	return sum
}

// bigLog corrects the library's logarithm by how far bigExp of it lies from x.
func bigLog(x float64) *big.Float {
	y := new(big.Float).SetPrec(300).SetFloat64(math.Log(x))
	near, _ := y.Float64()
	e := bigExp(near) // ln x = near + 2 atanh((x-e)/(x+e)), of which the first two terms are 1e-48
	v := new(big.Float).SetPrec(300).SetFloat64(x)
	f := new(big.Float).SetPrec(300).Sub(v, e)
	f.Quo(f, new(big.Float).SetPrec(300).Add(v, e))
	return y.Add(y, f.Add(f, f))
}

func TestExponential(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-707, 709).Draw(t, "x")
		if rapid.Bool().Draw(t, "near nought") {
			x /= 700
		}
		got := Exp(x)
		if off := ulps(got, bigExp(x)); off > 1 {
			t.Fatalf("e^%v = %v, %.2f units off", x, got, off)
		}
		if off := ulps(got, new(big.Float).SetFloat64(math.Exp(x))); off > 2 {
			t.Fatalf("e^%v = %v, the library has %v", x, got, math.Exp(x))
		}
	})
	for x, want := range map[float64]float64{0: 1, -800: 0, 800: math.Inf(1), math.Inf(-1): 0} {
		if got := Exp(x); got != want {
			t.Errorf("e^%v = %v", x, got)
		}
	}
	if got := Exp(math.NaN()); !math.IsNaN(got) {
		t.Errorf("e^NaN = %v", got)
	}
}

func TestLogarithm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(1e-300, 1e300).Draw(t, "x")
		switch rapid.IntRange(0, 2).Draw(t, "where") {
		case 0:
			x = rapid.Float64Range(0.5, 2).Draw(t, "near one")
		case 1:
			x = 1 + rapid.Float64Range(-1e-6, 1e-6).Draw(t, "by one")
		}
		got := Log(x)
		if x != 1 {
			if off := ulps(got, bigLog(x)); off > 2 {
				t.Fatalf("ln %v = %v, %.2f units off", x, got, off)
			}
			if off := ulps(got, new(big.Float).SetFloat64(math.Log(x))); off > 3 {
				t.Fatalf("ln %v = %v, the library has %v", x, got, math.Log(x))
			}
		}
	})
	if got := Log(1); got != 0 {
		t.Errorf("ln 1 = %v", got)
	}
	if got := Log(0); !math.IsInf(got, -1) {
		t.Errorf("ln 0 = %v", got)
	}
	for _, x := range []float64{-1, math.NaN()} {
		if got := Log(x); !math.IsNaN(got) {
			t.Errorf("ln %v = %v", x, got)
		}
	}
}

// The digits that every processor must give, bit by bit.
func TestElementaryBits(t *testing.T) {
	for _, c := range []struct {
		name string
		got  float64
		want uint64
	}{
		{"e^1", Exp(1), math.Float64bits(math.E) + 1},
		{"e^-1", Exp(-1), 0x3fd78b56362cef38},
		{"ln 2", Log(2), math.Float64bits(math.Ln2)},
		{"ln 10", Log(10), math.Float64bits(math.Ln10)},
		{"ln 0.9999", Log(0.9999), 0xbf1a3738d2cf1cc2},
		{"e^0.01 - 1", Expm1(0.01), 0x3f84952e9791133f},
		{"ln 1.01", Log1p(0.01), 0x3f8460d6ccca3678},
		{"10^0.3", Power(10, 0.3), 0x3fffec982d5bb8b0},
	} {
		if math.Float64bits(c.got) != c.want {
			t.Errorf("%s = %v (%#x), want %#x", c.name, c.got, math.Float64bits(c.got), c.want)
		}
	}
}

// The rest against the library, whose own are right to a unit.
func TestAgreesWithTheLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-0.9999, 30).Draw(t, "x")
		if rapid.Bool().Draw(t, "near nought") {
			x = math.Ldexp(x/30, -rapid.IntRange(0, 60).Draw(t, "power"))
		}
		y, base := rapid.Float64Range(-3, 3).Draw(t, "y"), math.Abs(x)+1e-6
		for _, c := range []struct {
			name      string
			got, want float64
			most      float64 // units in the last place
		}{
			{"e^x - 1", Expm1(x), math.Expm1(x), 4}, {"ln(1 + x)", Log1p(x), math.Log1p(x), 5},
			{"power", Power(base, y), math.Pow(base, y), 3 + 2*math.Abs(y*math.Log(base))},
		} {
			if c.want == 0 || math.Abs(c.want) < 1e-300 {
				continue
			}
			if off := ulps(c.got, new(big.Float).SetFloat64(c.want)); off > c.most {
				t.Fatalf("%s of %v and %v: %v, the library has %v, %.1f units off", c.name, x, y, c.got, c.want, off)
			}
		}
	})
	for name, got := range map[string][2]float64{
		"e^0 - 1": {Expm1(0), 0}, "e^-800 - 1": {Expm1(-800), -1}, "e^800 - 1": {Expm1(800), math.Inf(1)}, "ln(1 + 0)": {Log1p(0), 0}, "ln(1 - 1)": {Log1p(-1), math.Inf(-1)},
		"ln(1 + inf)": {Log1p(math.Inf(1)), math.Inf(1)}, "0^2": {Power(0, 2), 0}, "0^0": {Power(0, 0), 1}, "7^0": {Power(7, 0), 1}, "1^5": {Power(1, 5), 1},
	} {
		if got[0] != got[1] {
			t.Errorf("%s is %v, want %v", name, got[0], got[1])
		}
	}
	if !math.IsNaN(Expm1(math.NaN())) || !math.IsNaN(Log1p(math.NaN())) || !math.IsNaN(Log1p(-2)) || !math.IsNaN(Power(-1, 0.5)) {
		t.Error("what is not a number comes out as one")
	}
}
