package kind

import "steadyrail/capture"

// A meter that changes its range shows a reading or two with the digits of a
// range that is far too wide: a tenth of a kiloohm more or less. No null of some
// tenths of an ohm may be taken off there, and nothing near the limit be told.

// taken is what is taken off a reading for the leads: a null shows only where the
// last digit is not coarser than it.
func (s *short) taken(r *capture.Reading) float64 {
	if r.Resolution > s.lead {
		return 0
	}
	return s.lead
}

// wide reports whether the digits of the newest reading are too coarse to tell it
// from the limit: three of them, as everywhere digits make a constant (common practice).
func (s *short) wide() bool {
	digits := float64(3 * s.last.Resolution)
	return digits > s.limit() && abs(s.value) < s.limit()+digits
}

// undecided is what remains of a judgement by such digits.
func undecided(o capture.Outcome) capture.Outcome {
	switch o {
	case capture.Pass:
		return capture.ConditionalPass
	case capture.Fail:
		return capture.ConditionalFail
	}
	return o
}
