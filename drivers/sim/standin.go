package sim

import (
	"math"

	"steadyrail/capture"
)

// mode is what the stand-in's controller is doing.
type mode uint8

const (
	lockedOut mode = iota // the input is too low
	waiting               // the input is there, the restart timer runs
	starting              // soft start
	running
)

// standIn is the converter that takes PS2's place. At its input it draws
// constant power, at its output it is a voltage behind a small resistance with
// a current limit that trips.
type standIn struct {
	trim   trimmer
	warmth heat
	stray  wander
	mode   mode
	ramp   float64 // share of the set voltage, 0 to 1
	timer  capture.Instant
	over   float64 // s in current limit
	hot    bool    // over-temperature
	vin    float64 // V at the input pins
	out    float64 // V at the output pins
	i      float64 // A out, capacitors included
	starts int     // completed soft starts
}

const (
	standInEff   = 0.88
	standInIdle  = 0.15  // W
	standInOhms  = 0.032 // ohm at the output, wiring included
	standInWire  = 0.008 // ohm of that between the pins and TP5
	standInLimit = 4.0   // A
	standInTrip  = 0.008 // s in limit until it gives up
	softStart    = 0.012 // s
	lockoutBelow = 9.0   // V
	lockoutAbove = 9.6   // V
	lineVolts    = 0.0006
	nominalIn    = 24.0
	driftPerK    = -0.0009 // V/K
	hotAbove     = 95.0    // °C
	hotBelow     = 80.0

	ownFarads  = 220e-6 // at its output
	inFarads   = 100e-6 // at its input
	ownBleed   = 1e-3   // S at its output
	inBleed    = 1e-4   // S at its input
	startDelay = 60000  // µs from input good to soft start
	retryDelay = 1500000
)

// inputVolts is what remains of vs behind resistance r at a load of constant
// power p. Above vs²/(4 p) there is no operating point.
func inputVolts(vs, r, p float64) (float64, bool) {
	d := vs*vs - 4*r*p
	if d < 0 {
		return 0, false
	}
	return (vs + math.Sqrt(d)) / 2, true
}

// power is what it takes at the input, in watt.
func (c *standIn) power() float64 {
	if c.mode != starting && c.mode != running {
		return 0
	}
	return math.Max(0, c.out*c.i)/standInEff + standInIdle
}

func (c *standIn) loss() float64 {
	if c.mode != starting && c.mode != running {
		return 0
	}
	return math.Max(0, c.out*c.i)*(1/standInEff-1) + standInIdle
}

// control moves the state machine on. It reports a change, after which the
// model looks closely for a while.
func (c *standIn) control(now capture.Instant, dt float64) bool {
	before := c.mode
	switch {
	case c.mode >= starting && (c.vin < lockoutBelow || c.over > standInTrip || c.hot):
		c.stop(now)
	case c.mode == waiting && now >= c.timer && c.vin < lockoutBelow:
		c.mode = lockedOut
	case c.mode == lockedOut && c.vin > lockoutAbove:
		c.mode, c.timer = waiting, now+startDelay
	case c.mode == waiting && now >= c.timer && c.vin > lockoutAbove && !c.hot:
		c.mode, c.ramp = starting, 0
	case c.mode == starting:
		c.ramp = math.Min(1, c.ramp+dt/softStart)
		if c.ramp == 1 {
			c.mode = running
			c.starts++
		}
	}
	return c.mode != before
}

// stop gives up and waits for the restart timer: what a converter does that
// lost its input, was overloaded or too hot.
func (c *standIn) stop(now capture.Instant) {
	c.mode, c.ramp, c.over, c.timer = waiting, 0, 0, now+retryDelay
}

// set is the voltage that it would give without load.
func (c *standIn) set(caseDegrees float64) float64 {
	v := c.trim.volts() + driftPerK*(caseDegrees-referenceDegree) + lineVolts*(c.vin-nominalIn) + c.stray.value
	return v * c.ramp
}

// drive feeds a rail with capacitance f that is drained by conductance g and
// current i, for dt seconds, and returns the rail's new voltage.
func (c *standIn) drive(v, g, i, f, dt, caseDegrees float64) float64 {
	if c.mode != starting && c.mode != running {
		c.i, c.over = 0, 0
		return math.Max(0, relax(v, -i, g, f, dt))
	}
	goal := math.Max(0, (c.set(caseDegrees)-standInOhms*i)/(1+standInOhms*g))
	full := relax(v, standInLimit-i, g, f, dt)
	if goal > full {
		c.i = standInLimit
		c.over += dt
		return math.Max(0, full)
	}
	c.over = 0
	// It cannot take current back: a rail above its goal falls by its load.
	next := math.Max(goal, math.Min(v, relax(v, -i, g, f, dt)))
	c.i = math.Max(0, i+g*next+f*(next-v)/dt)
	return next
}
