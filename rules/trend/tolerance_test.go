package trend

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// Two-sided factors for 95 % of the population with 95 % confidence (ISO 16269-6
// and the exact tables of Odeh and Owen print these; from memory).
func TestToleranceFactorPublished(t *testing.T) {
	for _, c := range []struct {
		n    int
		want float64
	}{{2, 36.52}, {3, 9.789}, {4, 6.341}, {5, 5.077}, {6, 4.422}, {7, 4.020}, {8, 3.746}, {9, 3.546}, {10, 3.393}, {20, 2.760}, {30, 2.555}} {
		k, err := ToleranceFactor(c.n, 0.95, 0.95)
		if err != nil || math.Abs(k/c.want-1) > 0.0005 {
			t.Errorf("n = %d: k = %g, %v; want %g", c.n, k, err, c.want)
		}
	}
}

// The approximation of Howe, z·√((n−1)(1+1/n)/χ²), holds within some per cent
// and is computed by another library (J. Am. Stat. Assoc. 64 (1969) 610).
func TestToleranceFactorAgainstHowe(t *testing.T) {
	for _, n := range []int{5, 10, 43, 200} {
		for _, p := range []float64{0.9, 0.99} {
			for _, conf := range []float64{0.9, 0.99} {
				v := float64(n - 1)
				howe := distuv.UnitNormal.Quantile((1+p)/2) * math.Sqrt(v*(1+1/float64(n))/distuv.ChiSquared{K: v}.Quantile(1-conf))
				k, err := ToleranceFactor(n, p, conf)
				if err != nil || math.Abs(k/howe-1) > 0.02 {
					t.Errorf("n = %d, p = %g, confidence %g: %g, %v; Howe %g", n, p, conf, k, err, howe)
				}
			}
		}
	}
}

// What the factor promises is counted: in 95 of 100 samples the interval holds
// 95 % of the population.
func TestToleranceFactorHolds(t *testing.T) {
	r := rand.New(rand.NewPCG(20310312, 6))
	const trials = 20_000
	for _, n := range []int{3, 10} {
		k, err := ToleranceFactor(n, 0.95, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		held := 0
		for range trials {
			var m Moments
			for range n {
				m.Add(r.NormFloat64())
			}
			if normalBelow(m.Mean()+k*m.SD())-normalBelow(m.Mean()-k*m.SD()) >= 0.95 {
				held++
			}
		}
		if share := float64(held) / trials; math.Abs(share-0.95) > 0.005 {
			t.Errorf("n = %d: held in %.4f of the samples", n, share)
		}
	}
}

func TestChiSquareAbove(t *testing.T) {
	for _, v := range []float64{1, 2, 5, 9, 30, 199} {
		for _, x := range []float64{1e-6, 0.3, 1, 4, 9.5, 30, 200, 400} {
			want := distuv.ChiSquared{K: v}.Survival(x)
			if got := chiSquareAbove(x, v); math.Abs(got-want) > 1e-12 {
				t.Errorf("chi-square %g with %g degrees: %g, want %g", x, v, got, want)
			}
		}
	}
}

func TestToleranceFactorRefuses(t *testing.T) {
	for _, c := range []struct {
		n       int
		p, conf float64
	}{{1, 0.95, 0.95}, {0, 0.95, 0.95}, {5, 0, 0.95}, {5, 1, 0.95}, {5, 0.95, 1}, {5, math.NaN(), 0.9}} {
		if _, err := ToleranceFactor(c.n, c.p, c.conf); !errors.Is(err, ErrTolerance) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}
