package session

import (
	"math"

	"steadyrail/capture"
)

// RangeOf infers the range from the digits that a meter sent: the range of that
// resolution which holds the value. When two fit, the larger, whose uncertainty
// is, unless one of them is held; nothing is held at 0. 0 when none fits.
func RangeOf(ranges []capture.Accuracy, v, resolution, held float64) float64 {
	const overScale = 1.25 // meters show up to a fifth or a quarter over the range
	best := 0.0
	for _, a := range ranges {
		if math.Abs(a.Resolution-resolution) < 0.01*resolution && math.Abs(v) <= overScale*a.Range {
			if a.Range == held {
				return held
			}
			best = max(best, a.Range)
		}
	}
	return best
}
