package uncertainty

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// The factors against gonum's quantiles of the distribution.
func TestDeviationFactors(t *testing.T) {
	const tail = 0.022750131948179209 // of a normal distribution beyond two standard deviations
	for _, degrees := range []float64{10, 12.6, 20, 32, 100, 1000} {
		chi := distuv.ChiSquared{K: degrees}
		low, high := DeviationFactors(degrees)
		for _, c := range []struct {
			name      string
			got, want float64
		}{{"low", low, math.Sqrt(degrees / chi.Quantile(1-tail))}, {"high", high, math.Sqrt(degrees / chi.Quantile(tail))}} {
			if math.Abs(c.got/c.want-1) > 0.006 {
				t.Errorf("%s factor of %v degrees is %.5f, gonum has %.5f", c.name, degrees, c.got, c.want)
			}
		}
	}
	for _, degrees := range []float64{9.99, 0, -1, math.NaN()} {
		if low, high := DeviationFactors(degrees); low != 0 || !math.IsInf(high, 1) {
			t.Errorf("%v degrees give %v to %v, want nothing", degrees, low, high)
		}
	}
}
