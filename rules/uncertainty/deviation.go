package uncertainty

import "math"

// LeastForSpread is the fewest degrees of freedom from which something is said of
// a standard deviation: below it the interval is so wide, and its formula so
// coarse, that it says nothing.
const LeastForSpread = 10

// DeviationFactors are what a standard deviation with so many degrees of freedom
// is multiplied by for the ends of its interval of 95.45 %, as U = 2u is one: the
// roots of ν/χ² (ISO 2854, GUM 4.2.3). The quantiles of χ² are those of Wilson
// and Hilferty (Proceedings of the National Academy of Sciences 17 (1931) 684),
// which are plain arithmetic, within 0.6 % in the factor from 10 degrees on.
// Below [LeastForSpread] nothing is known: 0 and +Inf.
func DeviationFactors(degrees float64) (low, high float64) {
	if !(degrees >= LeastForSpread) {
		return 0, math.Inf(1)
	}
	v := 2 / float64(9*degrees)
	root := float64(2 * math.Sqrt(v))
	return 1 / threeHalves(1-v+root), 1 / threeHalves(1-v-root)
}

func threeHalves(x float64) float64 { return float64(x * math.Sqrt(x)) }
