package kind

import "steadyrail/capture"

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
// The zero value has seen nothing.
type rising struct {
	from, to      capture.Instant
	first, newest float64
	n             int
	floor         float64 // what tips and digits may make of a constant, ohm
}

// risingReadings rule out one slip between two of them.
const risingReadings = 3

// add takes a reading that is above the limit for certain. One that falls, or
// rises faster than the run did before, is on no such curve and begins a new one.
func (r *rising) add(at capture.Instant, ohms, resolution float64) {
	floor := float64(2*tips) + float64(3*resolution)
	noise := floor + float64(0.001*abs(ohms))
	if r.n == 0 || ohms < r.newest-noise || r.faster(at, ohms, noise) {
		*r = rising{from: at, to: at, first: ohms, newest: ohms, n: 1, floor: floor}
		return
	}
	r.to, r.newest, r.floor = at, ohms, floor
	r.n++
}

// faster reports whether the last step is steeper than the run before it: the
// law slackens.
func (r *rising) faster(at capture.Instant, ohms, noise float64) bool {
	before := r.to.Sub(r.from).Seconds()
	if before <= 0 {
		return false
	}
	pace := (r.newest - r.first) / before
	return ohms-r.newest > float64(pace*at.Sub(r.to).Seconds())+float64(2*noise)
}

// charges reports whether the run rises, and has lasted as long as a steady one
// has to. What rises by no more than tips and digits make is steady.
func (r *rising) charges() bool {
	return r.n >= risingReadings && r.to.Sub(r.from) >= SteadyFor && r.newest-r.first > r.floor
}
