package rules

import "steadyrail/capture"

// stands keeps the newest word of a rule that says something. What was judged
// without power is not overwritten by what the ohms say once power is there: it
// stands, with from when it tells nothing of now.
func (r *railWalk) stands(v capture.Verdict) {
	last, any := r.last[v.Rule]
	switch {
	case any && v.Kind == "short" && v.Outcome == capture.NoData && v.Held.Since != 0:
		last.Held = v.Held
	case v.Outcome == capture.NoData, any && unproven(v) && !unproven(last):
		return
	default:
		last = v
	}
	r.last[v.Rule] = last
}
