package trend

import "math"

// The exponential and the logarithm of the library are written in assembly on
// some processors and fused on others, and differ in their last digit. A verdict
// hangs on these two, which are the same everywhere: only additions,
// multiplications and divisions, each rounded. Both follow the textbook way (range
// reduction by ln 2 in two parts, then a series; Muller, Elementary Functions,
// 2006, chapters 3 and 11; from memory).

// ln2High has 21 zero bits at its end, so that its product with an exponent is exact.
const (
	ln2High = 0x1.62e42feep-1
	ln2Low  = math.Ln2 - ln2High
)

// exponential is e to the power of x, within 1 unit in the last place; 0 below
// -708 and +Inf above 709.
func exponential(x float64) float64 {
	switch {
	case x != x:
		return x
	case x < -708:
		return 0
	case x > 709:
		return math.Inf(1)
	}
	k := math.Floor(float64(x/math.Ln2) + 0.5)
	r := x - float64(k*ln2High) - float64(k*ln2Low)
	sum := 1.0 / 14
	for n := 13.0; n > 1; n-- { // e^r - 1 = r(1 + r/2(1 + r/3(1 + …)))
		sum = (1 + float64(r*sum)) / n
	}
	return math.Ldexp(1+(r+float64(float64(r*r)*sum)), int(k))
}

// logarithm is the natural logarithm of x, within 2 units in the last place;
// NaN of what is not above 0.
func logarithm(x float64) float64 {
	switch {
	case !(x > 0):
		return math.NaN()
	case math.IsInf(x, 1):
		return x
	}
	m, exponent := math.Frexp(x)
	if m < math.Sqrt2/2 {
		m, exponent = 2*m, exponent-1
	}
	f := (m - 1) / (m + 1) // ln m = 2(f + f³/3 + f⁵/5 + …), |f| at most 0.172
	f2, sum := float64(f*f), 0.0
	for n := 23.0; n > 1; n -= 2 {
		sum = float64(f2 * (sum + 1/n))
	}
	k := float64(exponent)
	return float64(k*ln2High) + (float64(2*f) + (float64(2*float64(f*sum)) + float64(k*ln2Low)))
}
