package rules

import "steadyrail/capture"

// stands keeps the newest word of a rule that says something. What was judged
// without power is not overwritten by what the ohms say once power is there: it
// stands, with from when it tells nothing of now. Of what may not be judged the newest
// counts: that a charge was on the rail is not said any more when later ohms only
// have to become steady.
func (r *railWalk) stands(v capture.Verdict) {
	last, any := r.last[v.Rule]
	judged := any && last.Outcome != capture.NoData && !unproven(last)
	waits := any && v.Kind == "short" && v.N > 0
	switch {
	case any && v.Kind == "short" && v.Outcome == capture.NoData && v.Held.Since != 0:
		last.Held = v.Held
	case judged && (v.Outcome == capture.NoData || unproven(v)), v.Outcome == capture.NoData && !waits:
		return
	default:
		last = v
	}
	r.last[v.Rule] = last
}
