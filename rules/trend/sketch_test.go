package trend_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/rules/trend"
)

// rankOff is by which share of the ranks v misses p among the sorted values.
func rankOff(sorted []float64, v, p float64) float64 {
	n := float64(len(sorted))
	low, _ := slices.BinarySearch(sorted, v)
	high := low
	for high < len(sorted) && sorted[high] == v {
		high++
	}
	rank := p * (n - 1)
	return max(0, float64(low)-rank, rank-float64(max(low, high-1))) / n
}

// Whatever comes, in whatever order: never beyond the stated error.
func TestSketchKeepsItsWord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.SampledFrom([]int{8, 16, 33}).Draw(t, "size")
		values := rapid.SliceOfN(rapid.Float64Range(-10, 10), 1, 2000).Draw(t, "values")
		if rapid.Bool().Draw(t, "rising") {
			slices.Sort(values)
		}
		s := trend.NewSketch(size)
		for _, v := range values {
			s.Add(v)
		}
		sorted := slices.Sorted(slices.Values(values))
		for _, p := range []float64{0, 0.01, 0.25, 0.5, 0.9, 1} {
			got := s.Quantile(p)
			if s.Error() == 0 {
				if want := trend.Quantile(values, p); got != want {
					t.Fatalf("exact quantile %g: %g, want %g", p, got, want)
				}
			} else if off := rankOff(sorted, got, p); off > s.Error() {
				t.Fatalf("quantile %g of %d is off by %.4f of the ranks, stated %.4f", p, len(values), off, s.Error())
			}
		}
	})
}

// A night of readings, noise and a drift: what is stated, and what it is.
func TestSketchOfANight(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 16))
	const n = 144_000
	s, values := trend.NewSketch(256), make([]float64, n)
	for i := range values {
		values[i] = 5 + 1e-3*r.NormFloat64() + 1e-8*float64(i)
		s.Add(values[i])
	}
	slices.Sort(values)
	worst := 0.0
	for p := 0.01; p < 1; p += 0.01 {
		worst = max(worst, rankOff(values, s.Quantile(p), p))
	}
	t.Logf("stated %.2f %% of the ranks, was off by %.2f %% at the worst", 100*s.Error(), 100*worst)
	if s.Error() > 0.045 || worst > s.Error()/4 {
		t.Errorf("stated %.4f, worst %.4f", s.Error(), worst)
	}
}

func TestSketchOfLittle(t *testing.T) {
	s := trend.NewSketch(8)
	s.Add(math.NaN())
	if s.Quantile(0.5) != 0 || s.Error() != 0 {
		t.Error("a sketch of nothing")
	}
	for i := range 100 {
		s.Add(float64(i))
	}
	if q := s.Quantile(0.5); math.Abs(q-50) > 100*s.Error() || s.Error() == 0 {
		t.Errorf("median %g ± %g of the ranks", q, s.Error())
	}
}

func BenchmarkSketch(b *testing.B) {
	values := numbers(b, "Lottery")
	s := trend.NewSketch(256)
	perReading(b, values, s.Add)
}
