package sim

import "math"

// What the board's rails are made of: resistance to the return with no power
// (ohm) and capacitance (F). The products are what an ohmmeter has to wait for.
const (
	board5Ohms, board5Farads = 1500.0, 47e-6
	logicBoardOhms           = 220.0 // through CN3
	c104Farads               = 1000e-6
	rail12Ohms, rail12Farads = 4700.0, 470e-6
	minus12Ohms              = 5600.0
	rail3Ohms, rail3Farads   = 310.0, 220e-6
	bulkOhms, bulkFarads     = 4700.0, 2200e-6 // 24 V input

	auxAbove, auxBelow = 16.0, 14.0 // V at which the ±12 V sources start and stop
	auxSet, auxOhms    = 12.04, 0.25
	auxEff, auxIdle    = 0.85, 0.4 // W
	auxTau             = 0.004     // s
	deadPS2Power       = 0.4       // W that the broken converter still takes
	dspSet, dspDropout = 3.305, 0.30
	dspOhms            = 0.02
	dspTau             = 0.001
)

// stepInput advances the 24 V side: supply, leads, bulk capacitor, and what
// the converters take from it.
func (w *world) stepInput(dt float64) {
	c := &w.standIn
	power := w.auxPower()
	if w.in[PS2] && w.v24 > lockoutBelow {
		power += deadPS2Power
	}
	if w.in[StandIn] {
		power += w.throughJoint()
	}
	if w.feed == FeedBoard {
		w.v24 = w.supply.drive(w.v24, 1/bulkOhms, drain(power, w.v24)-w.injected(n24), bulkFarads, dt)
	} else {
		w.v24 = notBelow(relax(w.v24, w.injected(n24)-drain(power, w.v24), 1/bulkOhms, bulkFarads, dt), w.injected(n24), 1/bulkOhms)
	}
	if !w.in[StandIn] {
		if w.feed == FeedStandIn {
			c.vin = w.supply.drive(c.vin, inBleed, drain(c.power(), c.vin)-w.injected(nIn), inFarads, dt)
		} else {
			c.vin = math.Max(0, relax(c.vin, w.injected(nIn)-drain(c.power(), c.vin), inBleed, inFarads, dt))
		}
	}
	if w.feed == FeedNothing {
		w.supply.idle()
	}
	w.supply.latched |= w.supply.condition()
}

// drain is the current of a constant-power load; below half a volt nothing
// converts.
func drain(power, volts float64) float64 {
	if volts < 0.5 {
		return 0
	}
	return power / volts
}

// throughJoint finds the stand-in's input voltage behind the joint and returns
// the power that leaves the 24 V node for it.
func (w *world) throughJoint() float64 {
	c := &w.standIn
	p, r := c.power(), w.jointOhms()
	vin, ok := inputVolts(w.v24, r, p)
	if !ok {
		// No operating point: the input falls through the lockout at once.
		c.vin = lockoutBelow / 2
		return w.v24 * w.v24 / (2 * r)
	}
	c.vin = vin
	if vin <= 0 {
		return 0
	}
	return p * w.v24 / vin
}

// jointOhms is the solder joint at the stand-in's input: healthy it follows
// copper and rises with the case's temperature, in an episode it is what the
// fault says.
func (w *world) jointOhms() float64 {
	if w.now < w.jointUntil {
		return w.jointFault
	}
	return 0.02 * (1 + 0.004*(w.caseDegrees()-20))
}

func (w *world) auxPower() float64 {
	if !w.auxOn {
		return 0
	}
	return (w.v12-w.vm12)*w.load.audio()/auxEff + auxIdle
}

// stepAux advances the +12 V and -12 V rails.
func (w *world) stepAux(dt float64) {
	if w.auxOn {
		w.auxOn = w.v24 > auxBelow
	} else {
		w.auxOn = w.v24 > auxAbove
	}
	if w.auxOn {
		goal := auxSet - auxOhms*w.load.audio()
		keep := math.Exp(-dt / auxTau)
		w.v12 = goal + (w.v12-goal)*keep
		w.vm12 = -goal + 0.03 + (w.vm12+goal-0.03)*keep
		return
	}
	i := w.load.audio()
	w.v12 = notBelow(relax(w.v12, w.injected(n12)-i*conduct(w.v12, 12), 1/rail12Ohms, rail12Farads, dt), w.injected(n12), 1/rail12Ohms)
	w.vm12 = relax(w.vm12, w.injected(nm12)+i*conduct(-w.vm12, 12), 1/minus12Ohms, rail12Farads, dt)
}

// step5 advances the +5 V rail with whatever feeds and drains it.
func (w *world) step5(dt float64) {
	c := &w.standIn
	if c.control(w.now, dt) {
		w.lookClosely()
	}
	farads, g := w.rail5()
	i := w.load.logic(w.in[CN3])*conduct(w.v5, 5) + w.dspAmps() - w.injected(n5)
	if w.in[StandIn] {
		i -= w.injected(nOut)
		w.v5 = c.drive(w.v5, g, i, farads, dt, w.caseDegrees())
		c.out = w.v5 + c.i*standInWire
	} else {
		w.v5 = w.onRail5(i, g, farads, dt)
		c.out = c.drive(c.out, ownBleed, -w.injected(nOut), ownFarads, dt, w.caseDegrees())
	}
	w.load.supervise(w.now, w.v5)
}

// onRail5 returns the voltage of the +5 V rail without a converter of its own: what
// the supply makes of it when its leads are there.
func (w *world) onRail5(drain, g, farads, dt float64) float64 {
	if w.feed == FeedRail5 {
		return w.supply.drive(w.v5, g, drain, farads, dt)
	}
	return notBelow(relax(w.v5, -drain, g, farads, dt), w.injected(n5), g)
}

// rail5 is what hangs on +5 V with no power: capacitance and conductance.
func (w *world) rail5() (farads, g float64) {
	farads, g = board5Farads, 1/board5Ohms
	if w.in[CN3] {
		g += 1 / logicBoardOhms
	}
	if w.in[C104] {
		farads += c104Farads
	}
	if w.in[PS2] {
		g += 1 / w.scenario.Short
	}
	if w.in[StandIn] {
		farads, g = farads+ownFarads, g+ownBleed
	}
	if w.now < w.shortUntil {
		g += 1 / w.shortOhms
	}
	return farads, g
}

// dspAmps is what the 3.3 V regulator takes from +5 V.
func (w *world) dspAmps() float64 {
	if w.v5 < w.v3+dspDropout/2 {
		return 0
	}
	return w.load.dsp() * conduct(w.v3, 3.3)
}

// step3 advances the +3.3 V rail, a linear regulator behind +5 V.
func (w *world) step3(dt float64) {
	i := w.load.dsp() * conduct(w.v3, 3.3)
	goal := 0.0
	if w.v5 > 1.5 {
		goal = math.Min(dspSet-dspOhms*i, w.v5-dspDropout)
	}
	if goal >= w.v3-0.001 && goal > 0 {
		w.v3 = goal + (w.v3-goal)*math.Exp(-dt/dspTau)
		return
	}
	if w.v3 = notBelow(relax(w.v3, w.injected(n3)-i, 1/rail3Ohms, rail3Farads, dt), w.injected(n3), 1/rail3Ohms); goal > 0 {
		w.v3 = math.Max(goal, w.v3)
	}
}

// stepPin is PS2's output pin: on the board it is +5 V, off the board only the
// broken converter itself.
func (w *world) stepPin() {
	if w.in[PS2] {
		w.vPin = w.v5
		return
	}
	w.vPin = w.injected(nPin) * w.scenario.Short
}
