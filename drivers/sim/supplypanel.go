package sim

import (
	"math/rand/v2"
)

// supplyPanel is the bench supply's remote panel: set-points, output,
// protection and a read-back that is much coarser than a meter.
type supplyPanel struct {
	device
	noise *rand.Rand
	gainV float64
	gainA float64
}

// What the panel can do.
const (
	maxVolts, maxAmps     = 32.0, 5.0
	maxOverVolts          = 35.0
	maxOverAmps           = 5.5
	panelLag              = answerLag * 4
	readBackV, readBackA  = 2, 3 // decimals: 10 mV and 1 mA
	voltsNoise, ampsNoise = 0.002, 0.0004
)

func newSupplyPanel(b *Bench, identity string, seed uint64) *supplyPanel {
	r := stream(seed, "supply read-back")
	p := &supplyPanel{
		device: device{name: Supply, identity: identity, bench: b},
		noise:  r, gainV: between(r, -6e-4, 6e-4), gainA: between(r, -3e-3, 3e-3),
	}
	p.device.reset = p.toReset
	p.device.refresh = p.look
	p.commands = compile(append(commonCommands(), p.tree()...))
	p.status.esr = eventPowerOn
	return p
}

func (p *supplyPanel) source() *source { return &p.bench.world.supply }

// toReset is what *RST does to a real supply: the output goes off and the
// set-points to nothing, whatever was connected.
func (p *supplyPanel) toReset() {
	s := p.source()
	s.switchOff()
	s.vset, s.iset, s.ovp, s.ocp = 0, 0.1, maxOverVolts, maxOverAmps
	s.ovpOn, s.ocpOn, s.ovTrip, s.ocTrip = true, false, false, false
	p.bench.world.lookClosely()
}

// look brings the condition register up to date, with what came and went since
// the last look.
func (p *supplyPanel) look() {
	s := p.source()
	p.status.questionable.update(s.condition(), s.latched)
	s.latched = 0
}

func (p *supplyPanel) tree() []command {
	s := p.source()
	volts, amps := "[SOURce:]VOLTage", "[SOURce:]CURRent"
	list := []command{
		p.level(volts+"[:LEVel][:IMMediate][:AMPLitude]", &s.vset, "V", 0, maxVolts),
		p.level(amps+"[:LEVel][:IMMediate][:AMPLitude]", &s.iset, "A", 0.001, maxAmps),
		p.level(volts+":PROTection[:LEVel]", &s.ovp, "V", 0.5, maxOverVolts),
		p.level(amps+":PROTection[:LEVel]", &s.ocp, "A", 0.01, maxOverAmps),
		p.guardSwitch(volts, &s.ovpOn, func() bool { return false }),
		p.guardSwitch(amps, &s.ocpOn, func() bool { return s.staysOff }),
		{pattern: volts + ":PROTection:TRIPped", get: getSwitch(&s.ovTrip)},
		{pattern: amps + ":PROTection:TRIPped", get: getSwitch(&s.ocTrip)},
		{pattern: volts + ":PROTection:CLEar", set: noArgs(p.clearTrips)},
		{pattern: amps + ":PROTection:CLEar", set: noArgs(p.clearTrips)},
		{pattern: "OUTPut:PROTection:CLEar", set: noArgs(p.clearTrips)},
		{pattern: "OUTPut[:STATe]", set: p.setOutput, get: getSwitch(&s.on)},
		{pattern: "APPLy", set: p.apply, get: func(*call) (string, *scpiError) {
			return rounded(s.vset, 3) + "," + rounded(s.iset, 3), nil
		}},
		{pattern: "MEASure[:SCALar]:VOLTage[:DC]", get: func(c *call) (string, *scpiError) {
			return p.readBack(c, func(w *world) float64 {
				return p.bench.seen(nSupply, w.supply.v)*(1+p.gainV) + voltsNoise*p.noise.NormFloat64()
			}, readBackV)
		}},
		{pattern: "MEASure[:SCALar]:CURRent[:DC]", get: func(c *call) (string, *scpiError) {
			return p.readBack(c, func(w *world) float64 { return w.supply.i*(1+p.gainA) + ampsNoise*p.noise.NormFloat64() }, readBackA)
		}},
		{pattern: "MEASure[:SCALar]:POWer[:DC]", get: func(c *call) (string, *scpiError) {
			return p.readBack(c, func(w *world) float64 { return w.supply.v * w.supply.i * (1 + p.gainV + p.gainA) }, readBackV)
		}},
	}
	return list
}

// level makes the command for a set-point.
func (p *supplyPanel) level(pattern string, at *float64, inUnit string, lo, hi float64) command {
	return command{pattern: pattern,
		set: func(c *call) *scpiError {
			v, err := c.number(0, inUnit, lo, hi, lo)
			if err != nil {
				return err
			}
			*at = v
			p.bench.world.lookClosely()
			return nil
		},
		get: func(c *call) (string, *scpiError) {
			if len(c.args) == 0 {
				return rounded(*at, 3), nil
			}
			v, err := c.number(0, inUnit, lo, hi, lo)
			return rounded(v, 3), err
		},
	}
}

// guardSwitch is the switch of a protection, which a supply may lack: then its
// header is as unknown as any.
func (p *supplyPanel) guardSwitch(of string, on *bool, stuck func() bool) command {
	set, get := setSwitch(on), getSwitch(on)
	return command{pattern: of + ":PROTection:STATe",
		set: func(c *call) *scpiError {
			switch {
			case p.source().noSwitch:
				return errHeader
			case stuck():
				return nil
			}
			return set(c)
		},
		get: func(c *call) (string, *scpiError) {
			if p.source().noSwitch {
				return "", errHeader
			}
			return get(c)
		},
	}
}

// setOutput switches; a trip has to be cleared first.
func (p *supplyPanel) setOutput(c *call) *scpiError {
	if len(c.args) == 0 {
		return errMissing
	}
	on, err := readBool(c.args[0])
	if err != nil {
		return err
	}
	s := p.source()
	p.bench.world.lookClosely()
	if p.bench.world.now < s.weldedUntil {
		return nil
	}
	if !on {
		s.switchOff()
		return nil
	}
	if s.ovTrip || s.ocTrip {
		return errSettingsConflict
	}
	s.on = true
	return nil
}

func (p *supplyPanel) clearTrips(*call) *scpiError {
	s := p.source()
	s.ovTrip, s.ocTrip = false, false
	return nil
}

func (p *supplyPanel) apply(c *call) *scpiError {
	v, err := c.number(0, "V", 0, maxVolts, 0)
	if err != nil {
		return err
	}
	i := p.source().iset
	if len(c.args) > 1 {
		if i, err = c.number(1, "A", 0.001, maxAmps, i); err != nil {
			return err
		}
	}
	p.source().vset, p.source().iset = v, i
	p.bench.world.lookClosely()
	return nil
}

// readBack looks at the terminals and answers after the panel's lag.
func (p *supplyPanel) readBack(c *call, of func(*world) float64, decimals int) (string, *scpiError) {
	p.bench.catchUp()
	text := rounded(of(p.bench.world), decimals)
	if !c.wait(panelLag) {
		return "", nil
	}
	return text, nil
}
