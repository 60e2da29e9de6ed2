package kind

import (
	"time"

	"steadyrail/capture"
)

// rising watches readings of one contact that charge the rail's capacitors.
//
// An ohmmeter drives a constant current I into R parallel to C. From a rail that
// was proven dead what it reads is
//
//	v(t)/I = R·(1 - e^(-t/RC))
//
// (the charging law of R parallel to C, closed form): it rises to R, ever more
// slowly, and is never above it. So a reading that still rises is a lower bound
// of the resistance. Where the bound alone lies above the upper zone's limit the
// rail is not short, whatever is still to come (common practice: "it charges, so
// it is not short"). It proves neither "short" nor "cannot tell": those need the
// end. What a slipping tip adds does not slacken, or falls again, and begins anew.
// A contact that gets worse along a like curve is not told apart from a
// capacitor; it is not told apart from a resistance when it is steady either.
//
// Paces go by when the meter looked, not by when the record came: those of a busy
// computer come unevenly, and an even rise would seem to run faster and slower.
//
// The zero value has seen nothing.
type rising struct {
	from          capture.Instant // of the first record
	begun, seen   capture.Instant // when the meter looked first, and last
	half          time.Duration   // half of what is not known about the latter
	first, newest float64
	n             int
	floor         float64 // what tips and digits may make of a constant, ohm
}

// risingReadings rule out one slip between two of them.
const risingReadings = 3

// add takes a reading that is above the limit for certain. One that falls, or
// rises faster than the run did before, is on no such curve and begins a new one.
func (r *rising) add(at capture.Instant, ohms float64, like *capture.Reading) {
	floor := float64(2*tips) + float64(3*like.Resolution)
	noise := floor + float64(0.001*abs(ohms))
	looked := like.Sampled(at)
	if r.n == 0 || ohms < r.newest-noise || r.faster(looked, like.HalfWidth, ohms, noise) {
		*r = rising{from: at, begun: looked, seen: looked, half: like.HalfWidth, first: ohms, newest: ohms, n: 1, floor: floor}
		return
	}
	r.seen, r.half, r.newest, r.floor = looked, like.HalfWidth, ohms, floor
	r.n++
}

// faster reports whether the last step is steeper than the run before it: the
// law slackens. Where it is not known when the meter looked, the step may have been
// longer by that, by half at most.
func (r *rising) faster(looked capture.Instant, half time.Duration, ohms, noise float64) bool {
	before := r.seen.Sub(r.begun).Seconds()
	if before <= 0 {
		return false
	}
	pace, step := (r.newest-r.first)/before, looked.Sub(r.seen)
	step += min(step/2, half+r.half)
	return ohms-r.newest > float64(pace*step.Seconds())+float64(2*noise)
}

// holds reports whether the run has lasted as long as a steady one has to.
func (r *rising) holds() bool {
	return r.n >= risingReadings && r.seen.Sub(r.begun) >= SteadyFor
}

// charges reports whether it rises by more than tips and digits make.
func (r *rising) charges() bool { return r.newest-r.first > r.floor }
