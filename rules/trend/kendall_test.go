package trend_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"steadyrail/rules/trend"
)

// everyOrder calls do with each order of the values.
func everyOrder(values []float64, n int, do func()) {
	if n == 1 {
		do()
		return
	}
	for i := range n {
		values[i], values[n-1] = values[n-1], values[i]
		everyOrder(values, n-1, do)
		values[i], values[n-1] = values[n-1], values[i]
	}
}

// The variance is that of S over all orders of the values, with ties and
// without, and the mean is nought: no formula stands behind this.
func TestKendallVarianceOverAllOrders(t *testing.T) {
	for _, values := range [][]float64{{1, 2, 3, 4, 5, 6, 7}, {1, 1, 2, 3, 3, 3, 4}, {2, 2, 2, 2, 5}, {1, 2}} {
		var sum, squares, orders float64
		everyOrder(values, len(values), func() {
			s := trend.MannKendall(values).S
			sum, squares, orders = sum+s, squares+s*s, orders+1
		})
		sd := trend.MannKendall(values).SD
		if sum != 0 || math.Abs(squares/orders-sd*sd) > 1e-9 {
			t.Errorf("%v: mean %g, variance %g, stated %g", values, sum/orders, squares/orders, sd*sd)
		}
	}
}

// Tau against gonum; S turns its sign with the time and does not care for any
// rising function of the readings.
func TestMannKendallProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.SliceOfNDistinct(rapid.Float64Range(-3, 3), 3, 40, rapid.ID[float64]).Draw(t, "y")
		x := make([]float64, len(y))
		for i := range x {
			x[i] = float64(i)
		}
		k := trend.MannKendall(y)
		if want := stat.Kendall(x, y, nil); math.Abs(k.TauB-want) > 1e-12 {
			t.Fatalf("tau %g, want %g", k.TauB, want)
		}
		bent := make([]float64, len(y))
		for i, v := range y {
			bent[i] = 5 + 2*v
		}
		if other := trend.MannKendall(bent); other.S != k.S && len(slices.Compact(slices.Sorted(slices.Values(bent)))) == len(bent) {
			t.Fatalf("shifted and scaled: S %g, before %g", other.S, k.S)
		}
		slices.Reverse(y)
		if back := trend.MannKendall(y); back.S != -k.S || back.P != k.P {
			t.Fatalf("backwards: %+v, forwards %+v", back, k)
		}
	})
}

func TestMannKendallOfLittle(t *testing.T) {
	for _, y := range [][]float64{nil, {1}, {1, 1, 1, 1, 1}} {
		if k := trend.MannKendallCorrelated(y); k.S != 0 || k.Z != 0 || k.P != 1 || k.TauB != 0 {
			t.Errorf("%v: %+v", y, k)
		}
	}
	// Ten that rise: S 45, variance 125, z = 44/√125 = 3.9354, two-sided p 8.3e-5.
	k := trend.MannKendall([]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10})
	if k.S != 45 || math.Abs(k.SD*k.SD-125) > 1e-9 || math.Abs(k.Z-3.93548) > 1e-4 || math.Abs(k.P-8.303e-5) > 1e-7 || k.TauB != 1 {
		t.Errorf("%+v", k)
	}
}

// factorByHand is equation by equation what Hamed and Rao write, by other means:
// ranks by counting, correlations by gonum's covariance sums.
func factorByHand(y []float64) float64 {
	n := len(y)
	x := make([]float64, n)
	for i := range x {
		x[i] = float64(i)
	}
	slope, _, _, _ := trend.TheilSen(x, y)
	rank := make([]float64, n)
	for i := range y {
		for j := range y {
			switch a, b := y[i]-slope*x[i], y[j]-slope*x[j]; {
			case b < a:
				rank[i]++
			case b == a:
				rank[i] += 0.5
			}
		}
	}
	mean, variance := stat.PopMeanVariance(rank, nil)
	sum := 0.0
	for lag := 1; lag < n; lag++ {
		c := 0.0
		for i := lag; i < n; i++ {
			c += (rank[i] - mean) * (rank[i-lag] - mean)
		}
		if r := c / variance / float64(n); math.Abs(r) > 1.96/math.Sqrt(float64(n)) {
			sum += float64((n-lag)*(n-lag-1)*(n-lag-2)) * r
		}
	}
	return max(1, 1+2*sum/float64(n*(n-1)*(n-2)))
}

func TestHamedRaoAgreesWithTheEquations(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	for _, phi := range []float64{0, 0.5, 0.9} {
		for range 10 {
			y := ar1(r, 60, phi)
			plain, wide := trend.MannKendall(y), trend.MannKendallCorrelated(y)
			if got, want := wide.SD*wide.SD/(plain.SD*plain.SD), factorByHand(y); math.Abs(got/want-1) > 1e-9 {
				t.Errorf("φ %g: variance times %g, want %g", phi, got, want)
			}
		}
	}
}

// chance is the standard deviation of a share p found in n trials.
func chance(p float64, n int) float64 { return math.Sqrt(p * (1 - p) / float64(n)) }

// trials is how many series a simulation draws.
func trials(full int) int {
	if testing.Short() {
		return max(20, full/8)
	}
	return full
}

// Coverage of the nominal 95 % interval of Theil-Sen for 300 readings of AR(1).
// What it is for independent readings (94 %) falls to 77, 32 and 14 % as they
// hang together; the correction of Hamed and Rao brings back what its comment
// says. Tolerance: three standard deviations of a share found by chance, and 2 %
// for that of the published shares.
func TestTheilSenCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	x := make([]float64, 300)
	for i := range x {
		x[i] = float64(i)
	}
	n := trials(160)
	for _, c := range []struct{ phi, plain, wide float64 }{{0, 0.94, 0.94}, {0.5, 0.77, 0.87}, {0.9, 0.32, 0.68}, {0.99, 0.14, 0.50}} {
		plain, wide := 0, 0
		for range n {
			y := ar1(r, len(x), c.phi)
			if _, low, high, ok := trend.TheilSen(x, y); ok && low <= 0 && 0 <= high {
				plain++
			}
			if _, low, high, ok := trend.TheilSenCorrelated(x, y); ok && low <= 0 && 0 <= high {
				wide++
			}
		}
		p, w := float64(plain)/float64(n), float64(wide)/float64(n)
		t.Logf("φ %g, %d series: %.1f %% plain, %.1f %% corrected", c.phi, n, 100*p, 100*w)
		if math.Abs(p-c.plain) > 3*chance(c.plain, n)+0.02 || math.Abs(w-c.wide) > 3*chance(c.wide, n)+0.02 {
			t.Errorf("φ %g: coverage %.3f plain and %.3f corrected, want %g and %g", c.phi, p, w, c.plain, c.wide)
		}
	}
}

// Blocks repair it as far as they are long against the correlation time: 94 %
// at 21 times, 88 % at 2, 49 % at 0.2. Thirty blocks of medians of AR(1) with a
// correlation time of 9.5 readings (φ = 0.9).
func TestBlockMedianCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	n := trials(400)
	for _, c := range []struct {
		block int
		want  float64
	}{{200, 0.94}, {19, 0.88}, {2, 0.49}} {
		held := 0
		for range n {
			y := ar1(r, 30*c.block, 0.9)
			var x, medians []float64
			for i := 0; i < len(y); i += c.block {
				x, medians = append(x, float64(i)), append(medians, trend.Median(y[i:i+c.block]))
			}
			if _, low, high, ok := trend.TheilSen(x, medians); ok && low <= 0 && 0 <= high {
				held++
			}
		}
		p := float64(held) / float64(n)
		t.Logf("block %.1f correlation times: %.1f %%", float64(c.block)/9.49, 100*p)
		if math.Abs(p-c.want) > 3*chance(c.want, n)+0.02 {
			t.Errorf("block of %d: coverage %.3f, want %g", c.block, p, c.want)
		}
	}
}

// Theil-Sen does not care for the order of the points, and a line added is a
// slope added.
func TestTheilSenProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.SliceOfN(rapid.Float64Range(-3, 3), 3, 30).Draw(t, "y")
		x := make([]float64, len(y))
		for i := range x {
			x[i] = float64(i * i)
		}
		slope, low, high, _ := trend.TheilSen(x, y)
		if !(low <= slope && slope <= high) {
			t.Fatalf("%g is not within %g to %g", slope, low, high)
		}
		xs, ys := slices.Clone(x), slices.Clone(y)
		slices.Reverse(xs)
		slices.Reverse(ys)
		if s, l, h, _ := trend.TheilSen(xs, ys); s != slope || l != low || h != high {
			t.Fatalf("backwards: %g, %g to %g; forwards %g, %g to %g", s, l, h, slope, low, high)
		}
		add := rapid.Float64Range(-2, 2).Draw(t, "slope added")
		for i := range y {
			y[i] += 7 + add*x[i]
		}
		// Ties may part by rounding, and the interval with them: the slope not.
		if s, _, _, _ := trend.TheilSen(x, y); math.Abs(s-slope-add) > 1e-9 {
			t.Fatalf("slope %g, want %g", s, slope+add)
		}
	})
}
