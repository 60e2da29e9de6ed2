package discharge

import "math"

// decay returns exp(-x) for x of zero or more, to about 1e-15 times x. The library's own
// is written in assembly on some architectures and may differ in its last bit,
// and a judgement made anew elsewhere must come to the same.
//
// Reduction by the binary logarithm, then the series of exp (handbook).
func decay(x float64) float64 {
	if x > 700 {
		return 0
	}
	k := math.Floor(x / math.Ln2)
	rest := x - float64(k*math.Ln2)
	term, sum := 1.0, 1.0
	for n := 1; n <= 20; n++ {
		term = float64(term*-rest) / float64(n)
		sum += term
	}
	return math.Ldexp(sum, -int(k))
}
