package standin

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The steps and values that were taken by the library's logarithm and power before,
// whose last digit depends on the processor: the same, but at powers of ten, where
// that digit decided.
func TestStepsAgreeWithTheLogarithm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(1.001, 9.999).Draw(t, "v") * math.Pow10(rapid.IntRange(-9, 9).Draw(t, "power"))
		if got, want := step(v), math.Pow10(int(math.Floor(math.Log10(v)))-2); math.Abs(got/want-1) > 1e-15 || step(-v) != got {
			t.Fatalf("step of %g is %g, want %g", v, got, want)
		}
		if got, want := trimmerAbove(v), math.Pow10(int(math.Floor(math.Log10(max(10, v))))); got < v || got > 10*want {
			t.Fatalf("trimmer of %g: %g", v, got)
		}
	})
	for v, want := range map[float64]float64{0.1: 0.001, 1000: 10, 0: 0.01} {
		if got := step(v); got != want {
			t.Errorf("step of %v is %v, want %v", v, got, want)
		}
	}
	for parts := range 9 {
		if got := step(tenth(parts + 1)); got != 0.001 {
			t.Errorf("step of a tenth in %d parts is %v", parts+1, got)
		}
	}
	for _, s := range []Series{E48, E96} {
		for i, v := range s.Values() {
			if want := math.Round(100 * math.Pow(10, float64(i)/float64(s))); v != want {
				t.Errorf("value %d of E%d is %g, want %g", i, s, v, want)
			}
		}
	}
	for gauge := range 40 {
		d := 0.127e-3 * math.Pow(92, (36-float64(gauge))/39)
		near(t, "wire", WireOhm(float64(gauge), 1), 1.7241e-8/(math.Pi/4*d*d), 1e-13)
	}
}

// tenth adds up a tenth in so many parts: no more than a few last bits off it.
func tenth(parts int) (sum float64) {
	for range parts {
		sum += 0.1 / float64(parts)
	}
	return min(sum, math.Nextafter(0.1, 0))
}
