package kind

import (
	"math"

	"steadyrail/capture"
)

// steadyRun is a run of consecutive readings that agree. But for from they are told
// by when the meter looked, as in [rising].
type steadyRun struct {
	from     capture.Instant // of the first record
	begun    capture.Instant
	seen     capture.Instant // newest
	low, top float64
	n        int
	first    float64
	mid      float64 // about half way from the first to the newest
	midAt    capture.Instant
	next     float64 // becomes mid when the run is twice as long
	nextAt   capture.Instant
	newest   float64
	res      float64
	steps    float64 // sum of squares of the differences from reading to reading
}

// agree is by how far the readings of a run may lie apart: hand-held tips
// scatter by some ten milliohm; 5 % of what is read.
func agree(v, resolution float64) float64 {
	return max(0.05, float64(0.05*abs(v)), float64(3*resolution))
}

// add takes a reading. One that does not agree with the whole run begins a new
// one: against a slow creep it is not enough to agree with the reading before.
func (r *steadyRun) add(at, looked capture.Instant, v, resolution float64) {
	low, top := min(r.low, v), max(r.top, v)
	if r.n == 0 || top-low > agree(v, resolution) {
		*r = steadyRun{from: at, begun: looked, seen: looked, low: v, top: v, n: 1, first: v, mid: v, midAt: looked, next: v, nextAt: looked, newest: v, res: resolution}
		return
	}
	step := v - r.newest
	r.low, r.top, r.seen, r.newest, r.res = low, top, looked, v, resolution
	r.steps += float64(step * step)
	r.n++
	if looked.Sub(r.begun) >= 2*r.nextAt.Sub(r.begun) {
		r.mid, r.midAt, r.next, r.nextAt = r.next, r.nextAt, v, looked
	}
}

func (r *steadyRun) steady() bool {
	if r.n < 3 || r.seen.Sub(r.begun) < SteadyFor {
		return false
	}
	drift := abs(r.newest - r.first)
	floor := float64(2*tips) + float64(3*r.res)
	if drift <= floor {
		return true
	}
	if r.n < creepReadings {
		return false
	}
	return drift <= floor+float64(4*r.scatter()) || abs(r.toCome()) <= agree(r.newest, r.res)
}

// creepReadings tell a creep from scatter: over fewer, the one looks like the
// other.
const creepReadings = 8

// scatter is the standard deviation of a reading by the differences from reading
// to reading, which a slow creep hardly touches (von Neumann 1941).
func (r *steadyRun) scatter() float64 { return math.Sqrt(r.steps / float64(2*(r.n-1))) }

// toCome estimates what a creep will still bring, in ohm: an ohmmeter that
// charges a capacitor goes towards its end exponentially, and the pace falls by
// the same part in the same time (Aitken 1926). Where it does not slacken the end
// is not in sight: what is returned is then more than any run agrees by.
func (r *steadyRun) toCome() float64 {
	drift := r.newest - r.first
	if r.midAt <= r.begun || r.midAt >= r.seen {
		return float64(100 * drift)
	}
	before, after := r.midAt.Sub(r.begun).Seconds(), r.seen.Sub(r.midAt).Seconds()
	begin, end := (r.mid-r.first)/before, (r.newest-r.mid)/after
	slack := begin - end
	if float64(begin*drift) <= 0 || float64(slack*drift) <= 0 {
		return float64(100 * drift)
	}
	// The paces stand at the middles of the two parts, half the run apart; the
	// pace now is another half of the last part on.
	perSecond := slack / begin / ((before + after) / 2)
	return end / perSecond
}
