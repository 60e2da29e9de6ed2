package coverage_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"steadyrail/rules/coverage"
)

// Chi-squared tables: χ²(0.95; 2r+2)/2 for r = 0 to 3; 2.303 is -ln 0.1.
func TestUpperMean(t *testing.T) {
	for r, want := range []float64{2.996, 4.744, 6.296, 7.754} {
		if got := coverage.UpperMean(r, 0.95); math.Abs(got-want) > 0.0005 {
			t.Errorf("%d failures: %.4f, want %.3f", r, got, want)
		}
	}
	if got := coverage.UpperMean(0, 0.9); math.Abs(got-math.Log(10)) > 1e-9 {
		t.Errorf("none at 90 %%: %g", got)
	}
	for _, got := range []float64{coverage.UpperMean(-1, 0.95), coverage.UpperMean(0, 1), coverage.UpperMean(0, math.NaN()), coverage.UpperRate(0, 0, 0.95)} {
		if !math.IsInf(got, 1) {
			t.Errorf("a bound of %g out of nothing", got)
		}
	}
}

// Computed by hand: 8 h clean proves a mean time of over 2.7 h (2.67) and no more;
// once in 3 h needs 9 h, once a day 72 h; 50 ms dips seen with 0.31 need 29 h.
func TestSoakFigures(t *testing.T) {
	if between := 1 / coverage.UpperRate(0, 8*time.Hour, 0.95); math.Abs(between-2.67) > 0.005 {
		t.Errorf("8 h clean: once in %.3f h", between)
	}
	for _, c := range []struct {
		every      time.Duration
		confidence float64
		seen       float64
		hours      float64
	}{{3 * time.Hour, 0.95, 1, 9}, {24 * time.Hour, 0.95, 1, 72}, {time.Hour, 0.9, 1, 2.3}, {3 * time.Hour, 0.95, 0.31, 29}} {
		if got := coverage.SoakNeeded(c.every, c.confidence, c.seen).Hours(); math.Abs(got-c.hours) > 0.02*c.hours {
			t.Errorf("once in %s, seen with %g: %.1f h, want %g h", c.every, c.seen, got, c.hours)
		}
	}
	if coverage.SoakNeeded(time.Hour, 0.95, 0) != 0 {
		t.Error("a soak that can show what cannot be seen")
	}
	for n, want := range map[int]float64{10: 0.26, 30: 0.095, 59: 0.05, 299: 0.01} {
		if got := coverage.UpperShare(n, 0.95); math.Abs(got-want) > 0.005 && math.Abs(got/want-1) > 0.02 {
			t.Errorf("%d clean cycles: %.4f, want %g", n, got, want)
		}
	}
}

func TestProofIsPlain(t *testing.T) {
	for _, c := range []struct {
		failures int
		watched  time.Duration
		want     string
	}{
		{0, 8 * time.Hour, "8 h without a failure prove, with 95 % confidence, that under these conditions it fails less often than once in 2.6 h on average."},
		{1, 8 * time.Hour, "8 h with 1 failure prove, with 95 % confidence, that under these conditions it fails less often than once in 1.6 h on average."},
		{3, 30 * time.Minute, "30 min with 3 failures prove, with 95 % confidence, that under these conditions it fails less often than once in 3.8 min on average."},
		{0, 0, "Nothing was watched, so nothing is proven."},
	} {
		if got := coverage.Proof(c.failures, c.watched); !strings.HasPrefix(got, c.want) {
			t.Errorf("%d in %s: %q", c.failures, c.watched, got)
		}
	}
}

func TestLong(t *testing.T) {
	for d, want := range map[time.Duration]string{
		8 * time.Hour: "8 h", 72*time.Hour + time.Minute: "72 h", 160 * time.Minute: "2.6 h", 9 * time.Minute: "9 min", 90 * time.Second: "1.5 min", 12345 * time.Millisecond: "12 s", 188 * time.Millisecond: "188 ms", 0: "0 ms",
	} {
		if got := coverage.Long(d); got != want {
			t.Errorf("%s is %q, want %q", d, got, want)
		}
	}
}
