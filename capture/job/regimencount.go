package job

import (
	"time"

	"steadyrail/capture"
)

// counts reports whether a step that began is part of the time under power that a
// plan asks for. A warm-up comes before it and a time off on top.
func counts(t capture.RegimenTold) bool {
	return t.From != 0 && t.Powered() && t.Kind != capture.StepWarm
}

// counted lists the stretches of a plan that were watched without a break, with
// how much of each does not count. One of which nothing counts is none.
func (r *Regimen) counted(now capture.Instant) (out []capture.SoakPart) {
	for _, p := range r.parts(r.from, now) {
		p.Idle = p.To.Sub(p.From)
		for _, t := range r.steps {
			if counts(t) {
				p.Idle -= overlap(t, p, now)
			}
		}
		if p.Long() > 0 {
			out = append(out, p)
		}
	}
	return out
}

// overlap is how much of a part lies in a step; one that is not over lasts until
// now.
func overlap(t capture.RegimenTold, p capture.SoakPart, now capture.Instant) time.Duration {
	to := t.To
	if to == 0 {
		to = now
	}
	return max(0, min(to, p.To).Sub(max(t.From, p.From)))
}

// off is how long power was off as planned.
func (r *Regimen) off(now capture.Instant) (d time.Duration) {
	all := capture.SoakPart{From: r.from, To: now}
	for _, t := range r.steps {
		if t.From != 0 && t.Kind == capture.StepOff {
			d += overlap(t, all, now)
		}
	}
	return d
}
