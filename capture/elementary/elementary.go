// Package elementary has the exponential, the logarithm and what follows from
// them, the same to the last bit on every processor.
//
// Those of the library are written in assembly on some processors and fused on
// others, and differ in their last digit; a verdict that hangs on one would not be
// the same when it is computed again elsewhere. Here are only additions,
// multiplications and divisions, each rounded. They follow the textbook way (range
// reduction by ln 2 in two parts, then a series; Muller, Elementary Functions,
// 2006, chapters 3 and 11; from memory). They cost some ten times what the library's
// do.
package elementary

import "math"

// ln2High has 21 zero bits at its end, so that its product with an exponent is exact.
const (
	ln2High = 0x1.62e42feep-1
	ln2Low  = math.Ln2 - ln2High
)

// Exp is e to the power of x, within 1 unit in the last place; 0 below
// -708 and +Inf above 709.
func Exp(x float64) float64 {
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

// Log is the natural logarithm of x, within 2 units in the last place; -Inf of 0 and
// NaN of what is below.
func Log(x float64) float64 {
	switch {
	case x == 0:
		return math.Inf(-1)
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

// Expm1 is e to the power of x, less one, within 3 units in the last place also where
// that is little.
func Expm1(x float64) float64 {
	if !(math.Abs(x) < 0.5) {
		return Exp(x) - 1
	}
	sum := 1.0 / 16
	for n := 15.0; n > 1; n-- { // 1 + x/2(1 + x/3(1 + …))
		sum = (1 + float64(x*sum)) / n
	}
	return x + float64(float64(x*x)*sum)
}

// Log1p is the natural logarithm of 1 + x, within 4 units in the last place also
// where x is little: what 1 + x loses by rounding is given back by the slope of the
// logarithm (Goldberg, ACM Computing Surveys 23 (1991) 5, theorem 4).
func Log1p(x float64) float64 {
	u := 1 + x
	if u == 1 || math.IsInf(u, 1) {
		return x
	}
	return float64(Log(u) * x / (u - 1))
}

// Power is x to the power of y, x at least 0, and y above 0 where x is 0: within a
// few units in the last place for each power of e that it comes to.
func Power(x, y float64) float64 {
	switch {
	case y == 0:
		return 1
	case x == 0:
		return 0
	}
	return Exp(float64(y * Log(x)))
}
