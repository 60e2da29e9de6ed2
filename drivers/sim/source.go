package sim

import (
	"math"

	"steadyrail/capture"
)

// source is the bench supply's power part: a set voltage behind the leads, a
// current limit, and two protections. Its panel is SCPI, in supplypanel.go.
type source struct {
	vset, iset   float64 // as programmed, V and A
	on           bool
	ovp, ocp     float64 // trip levels, V and A
	ovpOn, ocpOn bool
	ovTrip       bool
	ocTrip       bool
	gain         float64         // true output over set voltage, about 1
	v, i         float64         // at the terminals, V and A
	limiting     bool            // constant current
	overFor      float64         // s above the over-current level
	latched      uint16          // questionable condition bits seen since last asked
	weldedUntil  capture.Instant // its output relay is welded: nothing switches it
	noSwitch     bool            // it knows no switch of its protections
	staysOff     bool            // its over-current protection cannot be switched on
}

const (
	supplyLeads = 0.06 // ohm, both ways
	supplySink  = 0.5  // A that it can take back to come down
	ocpDelay    = 0.02 // s that it lets an inrush pass
	minBleed    = 1e-6 // S: nothing is quite open
)

// Bits of the questionable condition register, see the package comment.
const (
	bitLimiting  = 1 << 0
	bitRegulated = 1 << 1
	bitOverVolt  = 1 << 9
	bitOverAmps  = 1 << 10
)

// drive feeds a node with capacitance c that is drained by conductance g and
// by the current drain (ampere, less than zero when a meter pushes), for dt
// seconds, and returns the node's new voltage.
func (s *source) drive(v, g, drain, c, dt float64) float64 {
	g += minBleed
	if !s.on {
		v = notBelow(relax(v, -drain, g, c, dt), lowest(v, -drain), g)
		s.v, s.i, s.limiting = v, 0, false
		return v
	}
	lead := 1 / supplyLeads
	set := s.vset * s.gain
	free := relax(v, set*lead-drain, lead+g, c, dt)
	begin, end := (set-v)*lead, (set-free)*lead
	v, s.i, s.limiting = free, end, false
	switch {
	case begin > s.iset || end > s.iset:
		old := set - begin/lead
		limited := relax(old, s.iset-drain, g, c, dt)
		if limited < free || end > s.iset {
			v, s.i, s.limiting = math.Max(0, limited), s.iset, true
		}
	case begin < -supplySink:
		old := set - begin/lead
		if slow := relax(old, -supplySink-drain, g, c, dt); slow > free {
			v, s.i = slow, -supplySink
		}
	}
	s.v = v + s.i*supplyLeads
	s.protect(dt)
	return v
}

// lowest is the part of a current that a meter can have injected: what converts
// takes nothing below half a volt, see drain.
func lowest(v, injected float64) float64 {
	if v >= 0.5 {
		return 0
	}
	return injected
}

// idle is drive with nothing connected.
func (s *source) idle() {
	s.v, s.i, s.limiting, s.overFor = 0, 0, false, 0
	if s.on {
		s.v = s.vset * s.gain
		s.protect(0)
	}
}

// protect trips the output. Over-voltage acts at once, over-current after
// ocpDelay.
func (s *source) protect(dt float64) {
	if s.ocpOn && s.i >= s.ocp {
		s.overFor += dt
	} else {
		s.overFor = 0
	}
	s.ovTrip = s.ovTrip || s.ovpOn && s.v > s.ovp
	s.ocTrip = s.ocTrip || s.overFor >= ocpDelay
	if s.ovTrip || s.ocTrip {
		s.switchOff()
	}
}

func (s *source) switchOff() {
	s.on, s.i, s.limiting, s.overFor = false, 0, false, 0
}

// condition returns the questionable condition register.
func (s *source) condition() uint16 {
	var c uint16
	switch {
	case s.on && s.limiting:
		c = bitLimiting
	case s.on:
		c = bitRegulated
	}
	if s.ovTrip {
		c |= bitOverVolt
	}
	if s.ocTrip {
		c |= bitOverAmps
	}
	return c
}
