package coverage

import (
	"math"
	"time"
)

// A single dip of depth D (share of what is there) that overlaps an aperture a
// by o takes o·D/a off the reading; it shows once that exceeds the threshold θ.
// So an overlap of θ·a/D is needed, and every formula here follows from that.

// Chance returns the probability that a reading shows a single dip of the given
// length that falls at any moment alike, when readings of the given aperture
// follow each other by period: min(1, (d + a - 2o)/T) for d ≥ o ≤ a, else 0.
// Depth and threshold are shares, 0.3 for 30 %. It is 0 where an argument makes
// no sense.
func Chance(dip, aperture, period time.Duration, depth, threshold float64) float64 {
	if period <= 0 {
		return 0
	}
	return math.Min(1, reach(dip, aperture, depth, threshold)/period.Seconds())
}

// reach is the stretch of starting moments, in seconds, from which a dip shows
// in a given reading.
func reach(dip, aperture time.Duration, depth, threshold float64) float64 {
	need, ok := overlap(aperture, depth, threshold)
	if !ok || dip.Seconds() < need {
		return 0
	}
	return max(0, (dip+aperture).Seconds()-2*need)
}

// overlap is how long a dip must overlap an aperture to show, in seconds. It
// reports false when no overlap is enough.
func overlap(aperture time.Duration, depth, threshold float64) (float64, bool) {
	if aperture <= 0 || !(depth > 0) || !(threshold >= 0) || threshold > depth {
		return 0, false
	}
	return float64(threshold * aperture.Seconds() / depth), true
}

// SureDip returns the shortest dip that cannot have been missed when readings
// stood at most gap apart: T - a + 2·θ·a/D. It reports false when no dip of
// this depth is ever certain. An aperture of 0 is not known: then the worst of
// all apertures up to the gap is taken.
func SureDip(aperture, gap time.Duration, depth, threshold float64) (time.Duration, bool) {
	if gap <= 0 {
		return 0, false
	}
	if aperture <= 0 {
		need, ok := overlap(gap, depth, threshold)
		return max(gap, roundUp(2*need)), ok
	}
	need, ok := overlap(aperture, depth, threshold)
	if !ok {
		return 0, false
	}
	return max(0, gap-aperture) + roundUp(2*need), true
}

// roundUp returns seconds as a duration, never shorter than they are.
func roundUp(seconds float64) time.Duration {
	return time.Duration(math.Ceil(float64(seconds*1e6)-1e-6)) * time.Microsecond
}
