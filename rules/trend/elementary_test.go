package trend

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
		got := exponential(x)
		if off := ulps(got, bigExp(x)); off > 1 {
			t.Fatalf("e^%v = %v, %.2f units off", x, got, off)
		}
		if off := ulps(got, new(big.Float).SetFloat64(math.Exp(x))); off > 2 {
			t.Fatalf("e^%v = %v, the library has %v", x, got, math.Exp(x))
		}
	})
	for x, want := range map[float64]float64{0: 1, -800: 0, 800: math.Inf(1), math.Inf(-1): 0} {
		if got := exponential(x); got != want {
			t.Errorf("e^%v = %v", x, got)
		}
	}
	if got := exponential(math.NaN()); !math.IsNaN(got) {
		t.Errorf("e^NaN = %v", got)
	}
	if got := exponential(-0.25); got != afterQuarter {
		t.Errorf("e^-0.25 = %v, want %v", got, afterQuarter)
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
		got := logarithm(x)
		if x != 1 {
			if off := ulps(got, bigLog(x)); off > 2 {
				t.Fatalf("ln %v = %v, %.2f units off", x, got, off)
			}
			if off := ulps(got, new(big.Float).SetFloat64(math.Log(x))); off > 3 {
				t.Fatalf("ln %v = %v, the library has %v", x, got, math.Log(x))
			}
		}
	})
	if got := logarithm(1); got != 0 {
		t.Errorf("ln 1 = %v", got)
	}
	for _, x := range []float64{0, -1, math.NaN()} {
		if got := logarithm(x); !math.IsNaN(got) {
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
		{"e^1", exponential(1), math.Float64bits(math.E) + 1},
		{"e^-1", exponential(-1), 0x3fd78b56362cef38},
		{"ln 2", logarithm(2), math.Float64bits(math.Ln2)},
		{"ln 10", logarithm(10), math.Float64bits(math.Ln10)},
		{"ln 0.9999", logarithm(0.9999), 0xbf1a3738d2cf1cc2},
		{"chord 0.5", chord(0.5), 0x3ff067518b381eb3},
	} {
		if math.Float64bits(c.got) != c.want {
			t.Errorf("%s = %v (%#x), want %#x", c.name, c.got, math.Float64bits(c.got), c.want)
		}
	}
}

func TestChordIsContinuousAndRight(t *testing.T) {
	for _, x := range []float64{1e-6, 1e-3, 0.1, 0.5, 0.999999, 1, 1.5, 10, 300} {
		want := 3 * (x*math.Cosh(x) - math.Sinh(x)) / (x * x * x)
		room := 1e-13
		if x < 0.1 { // where the closed form cancels
			want, room = 1+x*x/10+x*x*x*x/280, 1e-15
		}
		if got := chord(x); math.Abs(got-want) > room*want {
			t.Errorf("chord(%v) = %v, want %v", x, got, want)
		}
	}
}
