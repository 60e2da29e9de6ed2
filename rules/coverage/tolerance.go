package coverage

import (
	"fmt"
	"strconv"

	"steadyrail/capture"
)

// Confidence of every statement that a report or a screen makes.
const Confidence = 0.95

// shares are what a tolerance statement may claim; nothing between them, so that
// the figure is not taken for a measured one.
var shares = [...]float64{0.999, 0.99, 0.95}

// ToleranceConfidence returns with which confidence at least the given share of
// all readings lies between the least and the greatest of n independent ones,
// whatever their distribution: 1 - pⁿ - n(1-p)pⁿ⁻¹ (Wilks 1941; the tables of
// ISO 16269-6 and of Hahn and Meeker, Statistical Intervals, hold the same
// figures, from memory).
func ToleranceConfidence(n int, share float64) float64 {
	if n < 2 || !(share > 0) || !(share < 1) {
		return 0
	}
	return 1 - binomialAtMost(1, n, 1-share)
}

// ReadingsNeeded returns how many independent readings it takes to say with the
// given confidence that at least this share lies between their least and their
// greatest: 93, 473 and 4742 for 95, 99 and 99.9 % at 95 %. It is 0 where an
// argument makes no sense.
func ReadingsNeeded(share, confidence float64) int {
	if !(share > 0) || !(share < 1) || !within(confidence) {
		return 0
	}
	reached := confidence - 1e-12 // what only rounding keeps below is reached: 3 for 0.5 at 0.5
	low, high := 1, 2
	for ToleranceConfidence(high, share) < reached {
		low, high = high, high*2
	}
	for high-low > 1 {
		if middle := low + (high-low)/2; ToleranceConfidence(middle, share) >= reached {
			high = middle
		} else {
			low = middle
		}
	}
	return high
}

// ShareBetween returns the largest share of all readings that may be claimed to
// lie between the least and the greatest of n independent ones: the inverse of
// [ReadingsNeeded]. It is 0 when there are too few.
func ShareBetween(n int, confidence float64) float64 {
	if n < 2 || !within(confidence) {
		return 0
	}
	// Above the crossing the confidence is too low.
	return crossing(0, 1, func(p float64) bool { return ToleranceConfidence(n, p) >= confidence })
}

// ShareInside returns the largest share of all readings that may be claimed to
// lie inside bounds that stood before, when so many of n independent ones did
// not: 1 - [UpperFailing]. It is 0 of none.
func ShareInside(n, outside int, confidence float64) float64 {
	return 1 - UpperFailing(outside, n, confidence)
}

// Tolerance says in a plain sentence between what the readings of a watch lie,
// or why that cannot be said. It speaks of readings, so of the rail as this meter
// shows it: how well the meter is known is a matter of its own.
//
// How many readings count as independent follows from how much neighbours
// resemble each other, which is exact for a mean and common practice here.
func Tolerance(w capture.Watch, unit capture.Unit) string {
	if w.N == 0 {
		return "No reading, so nothing can be said about their spread."
	}
	counted := fmt.Sprintf("n %s, of which %s count as independent", Count(w.N), Count(int(w.Effective)))
	if w.N > 1 && w.Min == w.Max {
		return fmt.Sprintf("All %s readings show %s: how many count as independent cannot be told, so no share is claimed.", Count(w.N), unit.Text(w.Min, w.Resolution))
	}
	share := claimed(ShareBetween(int(w.Effective), Confidence))
	if share == 0 {
		return fmt.Sprintf("Too few independent readings to claim a share between two values (%s; it takes %d).", counted, ReadingsNeeded(shares[len(shares)-1], Confidence))
	}
	return fmt.Sprintf("With 95 %% confidence at least %s of readings lie between %s and %s (%s).",
		portion(share), unit.Text(w.Min, w.Resolution), unit.Text(w.Max, w.Resolution), counted)
}

// Inside says in a plain sentence which share of the readings of a watch lies in
// the band, when some did not. Those are counted as if each were independent,
// which claims too little rather than too much.
func Inside(w capture.Watch) string {
	share := claimed(ShareInside(int(w.Effective), w.Outside, Confidence))
	count := fmt.Sprintf("%s of %s readings lay outside the band", Count(w.Outside), Count(w.N))
	if w.Outside == 1 {
		count = fmt.Sprintf("1 of %s readings lay outside the band", Count(w.N))
	}
	if share == 0 {
		return count + "; too few independent ones to claim a share inside."
	}
	return fmt.Sprintf("%s; with 95 %% confidence at least %s lie inside (%s count as independent).", count, portion(share), Count(int(w.Effective)))
}

// claimed is the largest of the shares that are claimed which the one that may be
// reaches, 0 for none.
func claimed(most float64) float64 {
	for _, s := range shares {
		if most >= s {
			return s
		}
	}
	return 0
}

// portion prints a share: "99.9 %".
func portion(share float64) string { return capture.Figure(100*share, 0) + " %" }

// Count prints a whole number in groups of three, by spaces that do not break: a
// comma would be a decimal sign to some.
func Count(n int) string {
	s := strconv.FormatUint(uint64(max(0, n)), 10)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "\u00a0" + s[i:]
	}
	return s
}
