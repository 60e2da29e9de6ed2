package rules

import (
	"math"
	"strings"
	"testing"

	"steadyrail/capture"
)

// TestBinomialTest holds the exact test against counts made by hand, and against
// Mendel's 682 yellow of 925 peas at 3 to 1 (Conover, Practical Nonparametric
// Statistics (1971) 97; p = 0.3825, from memory).
func TestBinomialTest(t *testing.T) {
	for _, c := range []struct {
		k, n    int
		p, want float64
		within  float64
	}{
		{9, 10, 0.5, 22.0 / 1024, 1e-12},
		{7, 7, 0.5, 2.0 / 128, 1e-12},
		{5, 10, 0.5, 1, 1e-12},
		{0, 5, 0.25, 0.2373046875 + 0.087890625 + 0.0146484375 + 0.0009765625, 1e-12},
		{682, 925, 0.75, 0.3825, 0.00005},
	} {
		if got := binomialTest(c.k, c.n, c.p); math.Abs(got-c.want) > c.within {
			t.Errorf("%d of %d at %g: %.7f, want %.7f", c.k, c.n, c.p, got, c.want)
		}
	}
}

func TestHeatIsToldOfEnoughEventsOnly(t *testing.T) {
	var temps []capture.Bucket
	for i := range 20 {
		from := epoch + capture.Instant(i*60e6)
		temps = append(temps, capture.Bucket{From: from, To: from + 60e6, N: 10, Mean: 30 + float64(i)})
	}
	when := func(minutes ...float64) (out []capture.Instant) {
		for _, m := range minutes {
			out = append(out, at(m*60))
		}
		return out
	}
	for _, c := range []struct {
		events []capture.Instant
		want   string
	}{
		{nil, ""},
		{when(11.5, 12.5, 13.5, 14.5), "too few events"},
		{when(11, 12, 13, 14, 15, 16, 17, 18), "in 0.78 of 100 cases"}, // 2 of 256
		{when(1, 3, 5, 7, 11, 13, 15), "in 100 of 100 cases"},
		{when(11, 12, 13, 14, 90, 91), "too few events"}, // later than any temperature
	} {
		if got := heatSay(temps, c.events); !strings.Contains(got, c.want) || c.want == "" && got != "" {
			t.Errorf("%d events: %q, want %q", len(c.events), got, c.want)
		}
	}
}
