package isolate

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// Shares are printed as they were by the library's logarithm, whose last digit
// depends on the processor; at a power of ten, and at nought, by the digits.
func TestPercentAgreesWithTheLogarithm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(1.001, 9.999).Draw(t, "p") * math.Pow10(rapid.IntRange(-6, 1).Draw(t, "power"))
		decimals := 1
		if p < 90 {
			decimals = min(9, max(0, 1-int(math.Floor(math.Log10(p)))))
		}
		scale := math.Pow10(decimals)
		want := strconv.FormatFloat(math.Floor(math.Round(p*scale*1e6)/1e6)/scale, 'f', -1, 64)
		if got := percent(p/100, math.Floor); got != want {
			t.Fatalf("%g %%: %s, want %s", p, got, want)
		}
	})
	for p, want := range map[float64]string{0: "0", 0.001: "0.001", 1: "1", 10: "10", 99.95: "99.9"} {
		if got := percent(p/100, math.Floor); got != want {
			t.Errorf("%g %%: %s, want %s", p, got, want)
		}
	}
}
