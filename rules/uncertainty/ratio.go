package uncertainty

import (
	"math"
	"strconv"

	"steadyrail/capture"
)

// LeastRatio of half a band to U that passes in silence: 4:1 (common practice;
// ANSI/NCSL Z540.3, 5.3, names it as the way out where risk cannot be computed).
const LeastRatio = 4

// Ratio returns half the band over U. It is false without a U, or with a side
// that is open: nothing can be said then.
func Ratio(expanded float64, b capture.Bounds) (float64, bool) {
	if !(expanded > 0) || !b.HasLow() || !b.HasHigh() {
		return 0, false
	}
	return b.Width() / 2 / expanded, true
}

// GuardShare is the part of the band in which this meter cannot tell: a guard
// band of U at both edges, 2U over the width, at most all of it.
func GuardShare(expanded float64, b capture.Bounds) float64 {
	ratio, ok := Ratio(expanded, b)
	if !ok {
		return 0
	}
	return min(1, 1/ratio)
}

// Aloud says that a meter is coarse for a band; empty from [LeastRatio] up.
func Aloud(expanded float64, b capture.Bounds) string {
	ratio, ok := Ratio(expanded, b)
	if !ok || ratio >= LeastRatio-1e-9 {
		return ""
	}
	rounded := strconv.FormatFloat(math.Floor(float64(10*ratio)+1e-9)/10, 'f', 1, 64)
	return shareWords(1/ratio) + " the band is “cannot tell” with this meter (ratio " + rounded + ":1)"
}

// shareWords names a part as coarsely as a U is known.
func shareWords(share float64) string {
	switch {
	case share >= 1:
		return "all of"
	case share >= 0.9:
		return "nearly all of"
	case share >= 0.7:
		return "three quarters of"
	case share >= 0.58:
		return "two thirds of"
	case share >= 0.42:
		return "half"
	case share >= 0.3:
		return "a third of"
	}
	return "a quarter of"
}
