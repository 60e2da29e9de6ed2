package rules

import "steadyrail/capture"

// backwards keeps the verdict of the first contact with the leads exchanged, as it
// stood when that contact ended. What is read backwards through semiconductors
// is no resistance of the rail: it is neither how the rail was found nor how it
// left, and stands beside it.
func (w *walker) backwards(rail *railWalk, v capture.Verdict) {
	c, first := w.contact(rail, capture.Resistance, v), rail.back
	if first.since == 0 || first.since == c.since && (c.judged || !first.judged) {
		rail.back = c
	}
}

// backwards returns what was kept; nil: it was not read so.
func (r *railWalk) backwards() *capture.Result {
	if r.back.since == 0 {
		return nil
	}
	return &r.back.result
}
