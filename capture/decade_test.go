package capture

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestDecade(t *testing.T) {
	for v, want := range map[float64]float64{1: 1, 9.999: 1, 10: 10, 0.001: 0.001, 0.0009999: 0.0001, -0.0123: 0.01, 1e-9: 1e-9, 1e15: 1e15, 0: 0, math.Inf(1): 0} {
		if got := Decade(v); got != want {
			t.Errorf("Decade(%g) = %g, want %g", v, got, want)
		}
	}
	if got := Decade(math.NaN()); got != 0 {
		t.Errorf("Decade(NaN) = %g", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(1e-30, 1e30).Draw(t, "v")
		if d := Decade(v); d > v || d < v/10*(1-1e-15) {
			t.Fatalf("Decade(%g) = %g", v, d)
		}
	})
}

// The decade of a resolution is the floor of its logarithm, and a computed power
// of ten that is a hair too small is that power.
func TestDecadeOfAResolution(t *testing.T) {
	for _, mantissa := range []float64{1, 1 - 1e-9, 1 + 1e-9, 1.5, 2, 5, 9.99} {
		for power := -30; power <= 30; power++ {
			v := mantissa * math.Pow10(power)
			if got, want := decade(v), int(math.Floor(math.Log10(v)+1e-9)); got != want {
				t.Errorf("decade(%g) = %d, want %d", v, got, want)
			}
		}
	}
	if got := decade(math.MaxFloat64); got != 308 {
		t.Errorf("the largest: %d", got)
	}
}
