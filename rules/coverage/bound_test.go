package coverage_test

import (
	"math"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"steadyrail/rules/coverage"
)

func near0(got, want, within float64) bool { return math.Abs(got-want) <= within }

// The two-sided 95 % limits of a Poisson mean as they stand in every table since
// Garwood 1936 (from memory), to three decimals.
func TestMeanIntervalAsInTables(t *testing.T) {
	for r, want := range [][2]float64{{0, 3.689}, {0.025, 5.572}, {0.242, 7.225}, {0.619, 8.767}, {1.090, 10.242}, {1.623, 11.668}} {
		low, high := coverage.MeanInterval(r, 0.95)
		if !near0(low, want[0], 0.0006) || !near0(high, want[1], 0.0006) {
			t.Errorf("%d failures: %.4f to %.4f, want %v", r, low, high, want)
		}
	}
}

// The two-sided 95 % limits of Clopper and Pearson for 1 of 20 are 0.13 and
// 24.87 %, and none of 10 may still be 30.85 % (from memory).
func TestShareIntervalAsInTables(t *testing.T) {
	if low, high := coverage.ShareInterval(1, 20, 0.95); !near0(low, 0.00127, 5e-6) || !near0(high, 0.24873, 5e-6) {
		t.Errorf("1 of 20: %.5f to %.5f", low, high)
	}
	if low, high := coverage.ShareInterval(0, 10, 0.95); low != 0 || !near0(high, 0.30850, 5e-6) {
		t.Errorf("0 of 10: %.5f to %.5f", low, high)
	}
	if low, high := coverage.ShareInterval(7, 7, 0.95); !near0(low, 0.59038, 5e-6) || high != 1 {
		t.Errorf("7 of 7: %.5f to %.5f", low, high)
	}
}

// Poisson limits are quantiles of chi-squared, binomial ones of beta: another
// library, another way.
func TestBoundsAgainstQuantiles(t *testing.T) {
	for _, confidence := range []float64{0.5, 0.8, 0.9, 0.95, 0.99, 0.999} {
		for _, r := range []int{0, 1, 2, 3, 10, 57, 400} {
			up := distuv.ChiSquared{K: float64(2*r + 2)}.Quantile(confidence) / 2
			if got := coverage.UpperMean(r, confidence); !near0(got, up, 1e-9*up) {
				t.Errorf("%d failures at %g: at most %.12g, want %.12g", r, confidence, got, up)
			}
			low := 0.0
			if r > 0 {
				low = distuv.ChiSquared{K: float64(2 * r)}.Quantile(1-confidence) / 2
			}
			if got := coverage.LowerMean(r, confidence); !near0(got, low, 1e-8*(1+low)) {
				t.Errorf("%d failures at %g: at least %.12g, want %.12g", r, confidence, got, low)
			}
			for _, n := range []int{r + 1, 2*r + 5, 3000} {
				up := distuv.Beta{Alpha: float64(r + 1), Beta: float64(n - r)}.Quantile(confidence)
				if got := coverage.UpperFailing(r, n, confidence); !near0(got, up, 1e-8) {
					t.Errorf("%d of %d at %g: at most %.12g, want %.12g", r, n, confidence, got, up)
				}
				if r > 0 {
					low := distuv.Beta{Alpha: float64(r), Beta: float64(n - r + 1)}.Quantile(1 - confidence)
					if got := coverage.LowerFailing(r, n, confidence); !near0(got, low, 1e-8) {
						t.Errorf("%d of %d at %g: at least %.12g, want %.12g", r, n, confidence, got, low)
					}
				}
			}
		}
	}
}

func TestBoundsOfNonsenseExcludeNothing(t *testing.T) {
	for _, c := range []float64{0, 1, -1, 2, math.NaN()} {
		if low, high := coverage.MeanInterval(3, c); low != 0 || !math.IsInf(high, 1) {
			t.Errorf("confidence %g: %g to %g", c, low, high)
		}
		if low, high := coverage.ShareInterval(3, 9, c); low != 0 || high != 1 {
			t.Errorf("confidence %g: %g to %g", c, low, high)
		}
	}
	if low, high := coverage.RateInterval(2, 0, 0.95); low != 0 || !math.IsInf(high, 1) {
		t.Errorf("nothing watched: %g to %g", low, high)
	}
	if coverage.LowerFailing(5, 3, 0.9) != 0 || coverage.UpperFailing(-1, 3, 0.9) != 1 || coverage.UpperFailing(0, 0, 0.9) != 1 {
		t.Error("more failures than trials")
	}
}

// More failures, more confidence: a higher bound. More hours or trials: a lower.
func TestBoundsAreMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, n := rapid.IntRange(0, 40).Draw(t, "failures"), rapid.IntRange(50, 2000).Draw(t, "n")
		c := rapid.Float64Range(0.5, 0.98).Draw(t, "confidence")
		hours := time.Duration(rapid.IntRange(1, 1000).Draw(t, "hours")) * time.Hour
		if coverage.UpperMean(r+1, c) <= coverage.UpperMean(r, c) || coverage.UpperMean(r, c+0.01) <= coverage.UpperMean(r, c) {
			t.Fatal("upper mean")
		}
		if coverage.LowerMean(r+1, c) <= coverage.LowerMean(r, c) || r > 0 && coverage.LowerMean(r, c+0.01) >= coverage.LowerMean(r, c) {
			t.Fatal("lower mean")
		}
		if coverage.UpperRate(r, hours+time.Hour, c) >= coverage.UpperRate(r, hours, c) {
			t.Fatal("rate")
		}
		if coverage.UpperFailing(r+1, n, c) <= coverage.UpperFailing(r, n, c) || coverage.UpperFailing(r, n+1, c) >= coverage.UpperFailing(r, n, c) {
			t.Fatal("upper share")
		}
		low, high := coverage.ShareInterval(r, n, c)
		if share := float64(r) / float64(n); low > share || high < share {
			t.Fatalf("%d of %d lies outside %g to %g", r, n, low, high)
		}
		if s := coverage.UpperFailing(0, n, c); !near0(s, coverage.UpperShare(n, c), 1e-12) {
			t.Fatalf("none of %d: %g and %g", n, s, coverage.UpperShare(n, c))
		}
	})
}
