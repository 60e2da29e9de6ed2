package coverage_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/rules/coverage"
)

const ms = time.Millisecond

// A study for this project: aperture, period, dip and depth, threshold 20 %; probability and
// shortest certain dip as published there to the digits shown.
var table = []struct {
	period, aperture, dip time.Duration
	depth                 float64
	seen                  float64
	sure                  time.Duration
}{
	{200 * ms, 20 * ms, 50 * ms, 1.0, 0.31, 188 * ms},
	{200 * ms, 20 * ms, 50 * ms, 0.3, 0.22, 207 * ms},
	{400 * ms, 380 * ms, 50 * ms, 1.0, 0.00, 172 * ms},
	{400 * ms, 380 * ms, 100 * ms, 0.5, 0.00, 324 * ms},
}

const threshold = 0.2

func TestChanceAndSureDipAsInTheTable(t *testing.T) {
	for _, c := range table {
		p := coverage.Chance(c.dip, c.aperture, c.period, c.depth, threshold)
		sure, ok := coverage.SureDip(c.aperture, c.period, c.depth, threshold)
		if math.Abs(p-c.seen) > 0.005 || !ok || sure.Round(ms) != c.sure {
			t.Errorf("%v of %v, dip %v to %g: %.3f and %v, want %.2f and %v", c.aperture, c.period, c.dip, c.depth, p, sure, c.seen, c.sure)
		}
	}
}

// simulate drops a dip at random moments between apertures that repeat, and
// averages what the meter would: it knows nothing of the formula. One moment is
// drawn in each of as many equal pieces of the period as there are tries, which
// leaves far less to chance than moments drawn anywhere.
func simulate(r *rand.Rand, tries int, dip, aperture, period time.Duration, depth float64) float64 {
	seen := 0
	for i := range tries {
		start := (float64(i) + r.Float64()) / float64(tries) * period.Seconds()
		end := start + dip.Seconds()
		for k := -2; k <= 2+int(dip/period); k++ {
			from := float64(k) * period.Seconds()
			to := from + aperture.Seconds()
			overlap := math.Min(end, to) - math.Max(start, from)
			if overlap > 0 && overlap/aperture.Seconds()*depth >= threshold {
				seen++
				break
			}
		}
	}
	return float64(seen) / float64(tries)
}

func TestChanceAgreesWithSimulation(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	cases := table
	for _, depth := range []float64{0.25, 0.6} {
		for _, dip := range []time.Duration{5 * ms, 30 * ms, 150 * ms, 350 * ms} {
			cases = append(cases, table[0])
			c := &cases[len(cases)-1]
			c.dip, c.depth, c.aperture = dip, depth, 40*ms
		}
	}
	const tries = 40_000
	for _, c := range cases {
		want := coverage.Chance(c.dip, c.aperture, c.period, c.depth, threshold)
		got := simulate(r, tries, c.dip, c.aperture, c.period, c.depth)
		if math.Abs(got-want) > 0.002 {
			t.Errorf("%v of %v, dip %v to %g: simulated %.4f, by formula %.4f", c.aperture, c.period, c.dip, c.depth, got, want)
		}
	}
}

// A dip as long as the shortest certain one is never missed, and one a little
// shorter sometimes is.
func TestSureDipIsSure(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	for _, c := range table {
		sure, _ := coverage.SureDip(c.aperture, c.period, c.depth, threshold)
		if got := simulate(r, 20_000, sure, c.aperture, c.period, c.depth); got != 1 {
			t.Errorf("a dip of %v was seen in %.4f of cases", sure, got)
		}
		if got := simulate(r, 20_000, sure-10*ms, c.aperture, c.period, c.depth); got == 1 {
			t.Errorf("a dip of %v is certain too, so %v is not the shortest", sure-10*ms, sure)
		}
	}
}

// Longer and deeper dips are never seen less.
func TestChanceIsAChance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		period := time.Duration(rapid.IntRange(1, 1000).Draw(t, "period")) * ms
		aperture := time.Duration(rapid.Int64Range(1, int64(period)).Draw(t, "aperture"))
		depth := rapid.Float64Range(0.01, 1).Draw(t, "depth")
		dip := time.Duration(rapid.IntRange(1, 2000).Draw(t, "dip")) * ms
		p := coverage.Chance(dip, aperture, period, depth, threshold)
		longer := coverage.Chance(dip+10*ms, aperture, period, depth, threshold)
		deeper := coverage.Chance(dip, aperture, period, math.Min(1, depth+0.1), threshold)
		if p < 0 || p > 1 || longer < p || deeper < p-1e-12 {
			t.Fatalf("%g, longer %g, deeper %g", p, longer, deeper)
		}
		sure, ok := coverage.SureDip(aperture, period, depth, threshold)
		if ok != (depth >= threshold) {
			t.Fatalf("depth %g: certain %v", depth, ok)
		}
		if ok && coverage.Chance(sure, aperture, period, depth, threshold) < 1-1e-9 {
			t.Fatalf("a dip of %v is certain and has the chance %g", sure, coverage.Chance(sure, aperture, period, depth, threshold))
		}
		worst, ok := coverage.SureDip(0, period, depth, threshold)
		if ok && worst < sure-time.Microsecond { // rounded up to the microsecond
			t.Fatalf("aperture not known: %v, with one of %v: %v", worst, aperture, sure)
		}
	})
}

func TestChanceOfNonsense(t *testing.T) {
	for _, p := range []float64{
		coverage.Chance(50*ms, 0, 200*ms, 1, threshold), coverage.Chance(50*ms, 20*ms, 0, 1, threshold), coverage.Chance(50*ms, 20*ms, 200*ms, 0, threshold),
		coverage.Chance(50*ms, 20*ms, 200*ms, math.NaN(), threshold), coverage.Chance(50*ms, 20*ms, 200*ms, 0.1, threshold),
	} {
		if p != 0 {
			t.Errorf("chance %g out of nonsense", p)
		}
	}
	if _, ok := coverage.SureDip(20*ms, 0, 1, threshold); ok {
		t.Error("certain without a gap")
	}
}
