package coverage_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
)

// Sample sizes of distribution-free two-sided tolerance intervals between the
// extremes, as tabled in ISO 16269-6 and by Hahn and Meeker (from memory).
func TestReadingsNeededAsInTables(t *testing.T) {
	for _, c := range []struct {
		share, confidence float64
		n                 int
	}{
		{0.95, 0.95, 93}, {0.99, 0.95, 473}, {0.999, 0.95, 4742}, {0.90, 0.95, 46}, {0.90, 0.90, 38}, {0.95, 0.90, 77}, {0.99, 0.90, 388}, {0.95, 0.99, 130}, {0.99, 0.99, 662}, {0.5, 0.5, 3},
	} {
		if got := coverage.ReadingsNeeded(c.share, c.confidence); got != c.n {
			t.Errorf("%g at %g: %d, want %d", c.share, c.confidence, got, c.n)
		}
	}
	if coverage.ReadingsNeeded(1, 0.95) != 0 || coverage.ReadingsNeeded(0.9, 1) != 0 || coverage.ReadingsNeeded(math.NaN(), 0.9) != 0 {
		t.Error("readings that show what cannot be shown")
	}
}

// By the formula written out, and as a beta distribution of another library.
func TestToleranceAgainstOtherWays(t *testing.T) {
	for _, n := range []int{2, 10, 93, 473, 1310, 4742} {
		for _, p := range []float64{0.2, 0.9, 0.95, 0.99, 0.999} {
			want := 1 - math.Pow(p, float64(n)) - float64(n)*(1-p)*math.Pow(p, float64(n-1))
			if got := coverage.ToleranceConfidence(n, p); !near0(got, want, 1e-10) {
				t.Errorf("n %d, share %g: %.12g, want %.12g", n, p, got, want)
			}
		}
		// The share between the extremes has the beta distribution of n-1 and 2.
		want := distuv.Beta{Alpha: float64(n - 1), Beta: 2}.Quantile(0.05)
		if got := coverage.ShareBetween(n, 0.95); !near0(got, want, 1e-8) {
			t.Errorf("n %d: %.10g, want %.10g", n, got, want)
		}
		for _, out := range []int{0, 1, 3, 8} {
			if n > out {
				want := 1 - distuv.Beta{Alpha: float64(out + 1), Beta: float64(n - out)}.Quantile(0.95)
				if got := coverage.ShareInside(n, out, 0.95); !near0(got, want, 1e-8) {
					t.Errorf("n %d, %d outside: %.10g, want %.10g", n, out, got, want)
				}
			}
		}
	}
}

// The inverse gives the share back for which the readings are enough, and not
// one reading less.
func TestToleranceInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		share, c := rapid.Float64Range(0.3, 0.9995).Draw(t, "share"), rapid.Float64Range(0.5, 0.99).Draw(t, "confidence")
		n := coverage.ReadingsNeeded(share, c)
		if coverage.ShareBetween(n, c) < share-1e-9 || coverage.ShareBetween(n-1, c) >= share {
			t.Fatalf("%d readings claim %g, one less %g", n, coverage.ShareBetween(n, c), coverage.ShareBetween(n-1, c))
		}
		if coverage.ShareBetween(n+1, c) < coverage.ShareBetween(n, c) || coverage.ShareInside(n, 1, c) > coverage.ShareInside(n, 0, c) {
			t.Fatal("more readings claim less, or some outside claim more")
		}
	})
}

// The claim holds in at least 95 of 100 cases, for a skewed distribution whose
// shares are known: exponential.
func TestToleranceHolds(t *testing.T) {
	r := rand.New(rand.NewPCG(93, 473))
	const tries, n = 4000, 93
	held := 0
	for range tries {
		low, high := math.Inf(1), 0.0
		for range n {
			v := r.ExpFloat64()
			low, high = min(low, v), max(high, v)
		}
		if math.Exp(-low)-math.Exp(-high) >= 0.95 {
			held++
		}
	}
	// The confidence at n = 93 is 0.9500; four standard deviations of a share.
	want := coverage.ToleranceConfidence(n, 0.95)
	if got := float64(held) / tries; math.Abs(got-want) > 4*math.Sqrt(want*(1-want)/tries) {
		t.Errorf("held in %.4f of cases, claimed %.4f", got, want)
	}
}

func TestToleranceIsPlain(t *testing.T) {
	w := capture.Watch{N: 144_000, Effective: 1310.4, Min: 4.981, Max: 5.022, Resolution: 0.001}
	for name, c := range map[string]struct {
		change func(*capture.Watch)
		want   string
	}{
		"claims":    {func(*capture.Watch) {}, "With 95 % confidence at least 99 % of readings lie between 4.981 V and 5.022 V (n 144 000, of which 1 310 count as independent)."},
		"least":     {func(w *capture.Watch) { w.Effective = 93 }, "With 95 % confidence at least 95 % of readings lie"},
		"most":      {func(w *capture.Watch) { w.Effective = 4742 }, "With 95 % confidence at least 99.9 % of readings lie"},
		"not quite": {func(w *capture.Watch) { w.Effective = 4741.9 }, "With 95 % confidence at least 99 % of readings lie"},
		"too few":   {func(w *capture.Watch) { w.Effective = 92.9 }, "Too few independent readings to claim a share between two values (n 144 000, of which 92 count as independent; it takes 93)."},
		"all alike": {func(w *capture.Watch) { w.Max = w.Min }, "All 144 000 readings show 4.981 V: how many count as independent cannot be told, so no share is claimed."},
		"nothing":   {func(w *capture.Watch) { w.N = 0 }, "No reading"},
	} {
		w := w
		c.change(&w)
		if got := strings.ReplaceAll(coverage.Tolerance(w, capture.Volt), "\u00a0", " "); !strings.HasPrefix(got, c.want) {
			t.Errorf("%s: %q", name, got)
		}
	}
	w.Outside = 2
	if got, want := strings.ReplaceAll(coverage.Inside(w), "\u00a0", " "), "2 of 144 000 readings lay outside the band; with 95 % confidence at least 99 % lie inside (1 310 count as independent)."; got != want {
		t.Errorf("%q", got)
	}
	w.Outside, w.Effective = 1, 60
	if got, want := strings.ReplaceAll(coverage.Inside(w), "\u00a0", " "), "1 of 144 000 readings lay outside the band; too few independent ones to claim a share inside."; got != want {
		t.Errorf("%q", got)
	}
}
