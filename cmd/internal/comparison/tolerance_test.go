package comparison

import (
	"testing"

	"steadyrail/rules/trend"
)

// toleranceFactors: SciPy has no two-sided factor, so the script integrates its
// chi-square over its noncentral chi-square and searches from the one-sided
// factor (noncentral t) up. Ours are rounded to four digits.
func toleranceFactors(t *testing.T) (out []compared) {
	for _, c := range []struct {
		n                 int
		share, confidence float64
	}{{2, 0.9, 0.95}, {3, 0.95, 0.95}, {5, 0.9, 0.9}, {8, 0.99, 0.95}, {20, 0.95, 0.99}, {100, 0.9, 0.95}} {
		k, err := trend.ToleranceFactor(c.n, c.share, c.confidence)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, compared{"tolerance_factor", []any{c.n, c.share, c.confidence}, []float64{k}, 6e-4})
	}
	return out
}
