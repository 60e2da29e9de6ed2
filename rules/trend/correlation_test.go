package trend_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"steadyrail/rules/trend"
)

// byDefinition is the correlation at a lag from gonum's mean, in one sum.
func byDefinition(y []float64, lag int) float64 {
	mean, variance := stat.PopMeanVariance(y, nil)
	var sum float64
	for i := lag; i < len(y); i++ {
		sum += (y[i] - mean) * (y[i-lag] - mean)
	}
	return sum / variance / float64(len(y))
}

// Streamed, in a batch and by the definition, at 5 V with a millivolt of noise.
func TestCorrelogramAgreesWithTheDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		offset := rapid.SampledFrom([]float64{0, 5, -12}).Draw(t, "offset")
		y := rapid.SliceOfN(rapid.Float64Range(-1e-3, 1e-3), 2, 80).Draw(t, "values")
		most := rapid.IntRange(1, 20).Draw(t, "lags")
		c := trend.NewCorrelogram(most)
		for i := range y {
			y[i] += offset
			c.Add(y[i])
		}
		if stat.StdDev(y, nil) < 1e-5 {
			t.Skip("all the same")
		}
		streamed, batch := c.Autocorrelation(), trend.Autocorrelation(y, most)
		if len(streamed) != most+1 || len(batch) != most+1 {
			t.Fatalf("%d and %d lags", len(streamed), len(batch))
		}
		for lag := range streamed {
			want := 0.0
			if lag < len(y) {
				want = byDefinition(y, lag)
			}
			if math.Abs(streamed[lag]-want) > 1e-6 || math.Abs(batch[lag]-want) > 1e-9 {
				t.Fatalf("lag %d: streamed %g, batch %g, want %g", lag, streamed[lag], batch[lag], want)
			}
		}
	})
}

// The certified lag-1 autocorrelations of NIST StRD, streamed.
func TestCorrelogramAgainstNIST(t *testing.T) {
	for _, row := range table(t, "univariate_certified.csv") {
		c := trend.NewCorrelogram(8)
		for _, v := range numbers(t, row[0]) {
			c.Add(v)
		}
		d := digitsRight(c.Autocorrelation()[1], number(t, row[4]))
		t.Logf("%-9s lag-1: %.1f digits right", row[0], d)
		need := 12.0
		if r, ok := reachable[row[0]]; ok {
			need = r
		}
		if d < need {
			t.Errorf("%s: %.1f digits right, want %g", row[0], d, need)
		}
	}
}

func TestCorrelogramOfLittle(t *testing.T) {
	c := trend.NewCorrelogram(0)
	if rho := c.Autocorrelation(); len(rho) != 2 || rho[0] != 1 || rho[1] != 0 {
		t.Errorf("nothing: %v", rho)
	}
	for range 5 {
		c.Add(5.012)
	}
	if n, ok := c.Effective(); n != 5 || c.Autocorrelation()[1] != 0 || ok {
		t.Errorf("the same five times, one lag: %g effective, settled %v", n, ok)
	}
	if rho := trend.Autocorrelation(nil, -1); len(rho) != 1 {
		t.Errorf("%v", rho)
	}
}

// For AR(1) both ways of counting foretell n(1-φ)/(1+φ), and the means of many
// series scatter accordingly; for a moving average of five, whose lag 1 alone
// foretells wrongly, the sum does: n/5.
func TestEffectiveBySum(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	const n = 4000
	for _, phi := range []float64{0, 0.5, 0.9} {
		var got trend.Moments
		for range 30 {
			e, ok := trend.EffectiveBySum(n, trend.Autocorrelation(ar1(r, n, phi), 200))
			if !ok {
				t.Fatalf("φ %g: the window was not reached", phi)
			}
			got.Add(e)
		}
		if want := trend.Effective(n, phi); math.Abs(got.Mean()/want-1) > 0.1 {
			t.Errorf("φ %g: %.0f effective, want %.0f", phi, got.Mean(), want)
		}
	}
	noise := ar1(r, n+4, 0)
	c := trend.NewCorrelogram(50)
	for i := range n {
		c.Add(stat.Mean(noise[i:i+5], nil))
	}
	if e, ok := c.Effective(); !ok || math.Abs(e/(n/5)-1) > 0.25 {
		t.Errorf("a moving average of five: %.0f effective, want %d", e, n/5)
	}
	if _, ok := trend.EffectiveBySum(n, trend.Autocorrelation(ar1(r, n, 0.99), 20)); ok {
		t.Error("20 lags said to be enough for φ 0.99")
	}
}

func TestCorrelationTime(t *testing.T) {
	if got := trend.CorrelationTime(0.2, math.Exp(-0.1)); math.Abs(got-2) > 1e-9 {
		t.Errorf("%g, want 2", got)
	}
	if trend.CorrelationTime(1, 0) != 0 || trend.CorrelationTime(1, -0.5) != 0 || trend.CorrelationTime(1, 1) > 1e4 {
		t.Error("at the ends")
	}
}

func BenchmarkCorrelogram(b *testing.B) {
	values := numbers(b, "Lottery")
	for _, c := range []struct {
		name string
		lags int
	}{{"lags=1", 1}, {"lags=16", 16}, {"lags=64", 64}} {
		b.Run(c.name, func(b *testing.B) {
			g := trend.NewCorrelogram(c.lags)
			perReading(b, values, g.Add)
		})
	}
	b.Run("moments", func(b *testing.B) {
		var m trend.Moments
		perReading(b, values, m.Add)
	})
}
