package sim

import "math"

// heat is the stand-in's case over the room: two first-order warmings side by
// side, the part itself and everything around it under the cover. After a step
// of power P the rise is P (θ1 (1 - e^(-t/τ1)) + θ2 (1 - e^(-t/τ2))), exact for
// any step length.
type heat struct {
	quick, slow  float64 // K
	dt           float64 // step that the next two belong to
	keepQ, keepS float64
}

// The two warmings. Two minutes and twenty-five, the pair that
// deceives a single-exponential fit.
const (
	quickTau        = 2 * 60.0  // s
	slowTau         = 25 * 60.0 // s
	quickPerWatt    = 9.0       // K/W
	slowPerWatt     = 13.0      // K/W
	referenceDegree = 25.0      // °C at which the trimmer's scale holds
)

func (h *heat) step(watts, dt float64) {
	if dt != h.dt {
		h.dt, h.keepQ, h.keepS = dt, math.Exp(-dt/quickTau), math.Exp(-dt/slowTau)
	}
	h.quick = watts*quickPerWatt + (h.quick-watts*quickPerWatt)*h.keepQ
	h.slow = watts*slowPerWatt + (h.slow-watts*slowPerWatt)*h.keepS
}

func (h *heat) rise() float64 { return h.quick + h.slow }

// relax returns v after dt seconds of C dv/dt = i - g v: exact for constant i
// and g, so that a capacitor of any size is stable at any step.
func relax(v, i, g, c, dt float64) float64 {
	if g <= 0 {
		return v + i*dt/c
	}
	inf := i / g
	return inf + (v-inf)*math.Exp(-g*dt/c)
}
