package sim

import (
	"math/rand/v2"
	"strings"
	"time"

	"steadyrail/capture"
)

// thermometer is a thermocouple reader: a bead that follows what it lies on
// with some seconds' delay, and a slow converter.
type thermometer struct {
	device
	noise *rand.Rand
	last  string
}

const (
	thermoAperture = 100 * time.Millisecond
	thermoOffset   = 0.3  // K that it reads high
	thermoNoise    = 0.02 // K
	beadClipped    = 4.0  // s
	beadTouched    = 7.0
	beadInAir      = 12.0
)

func newThermometer(b *Bench, identity string, seed uint64) *thermometer {
	t := &thermometer{
		device: device{name: Thermo, identity: identity, bench: b},
		noise:  stream(seed, "thermometer"),
	}
	t.device.reset = func() { t.last = "" }
	t.commands = compile(append(commonCommands(), t.tree()...))
	t.status.esr = eventPowerOn
	return t
}

// putOn lays the bead on the case or hangs it into the room.
func (t *thermometer) putOn(point string, hold capture.Hold) bool {
	w := t.bench.world
	switch point {
	case PointCase:
		w.beadAt, w.beadTau = nCase, beadTouched
		if hold == capture.Clipped {
			w.beadTau = beadClipped
		}
	case PointRoom:
		w.beadAt, w.beadTau = nRoom, beadInAir
	default:
		return false
	}
	return true
}

func (t *thermometer) takeOff() {
	t.bench.world.beadAt, t.bench.world.beadTau = nRoom, beadInAir
}

func (t *thermometer) tree() []command {
	kOnly := func(c *call) *scpiError {
		if len(c.args) > 0 && strings.ToUpper(c.args[0]) != "K" {
			return errIllegalParameter
		}
		return nil
	}
	celsiusOnly := func(c *call) *scpiError {
		if len(c.args) == 0 {
			return errMissing
		}
		if a := strings.ToUpper(c.args[0]); a != "C" && a != "CEL" {
			return errIllegalParameter
		}
		return nil
	}
	functionOnly := func(c *call) *scpiError {
		if len(c.args) == 0 {
			return errMissing
		}
		name, err := readString(c.args[0])
		if err == nil && strings.ToUpper(name) != "TEMP" && strings.ToUpper(name) != "TEMPERATURE" {
			err = errIllegalParameter
		}
		return err
	}
	return []command{
		{pattern: "CONFigure[:SCALar]:TEMPerature", set: nothing},
		{pattern: "MEASure[:SCALar]:TEMPerature", get: t.measure},
		{pattern: "READ", get: t.measure},
		{pattern: "INITiate[:IMMediate]", set: func(c *call) *scpiError { _, err := t.measure(c); return err }},
		{pattern: "FETCh", get: func(*call) (string, *scpiError) {
			if t.last == "" {
				return "", errStale
			}
			return t.last, nil
		}},
		{pattern: "[SENSe:]FUNCtion[:ON]", set: functionOnly, get: func(*call) (string, *scpiError) { return `"TEMP"`, nil }},
		{pattern: "[SENSe:]TEMPerature:TCouple:TYPE", set: kOnly, get: func(*call) (string, *scpiError) { return "K", nil }},
		{pattern: "[SENSe:]TEMPerature:TRANsducer:TCouple:TYPE", set: kOnly, get: func(*call) (string, *scpiError) { return "K", nil }},
		{pattern: "UNIT:TEMPerature", set: celsiusOnly, get: func(*call) (string, *scpiError) { return "C", nil }},
	}
}

func (t *thermometer) measure(c *call) (string, *scpiError) {
	from := t.bench.clock.Now()
	if !c.wait(thermoAperture) {
		return "", nil
	}
	t.bench.catchUp()
	v := t.bench.world.past.mean(nBead, from, from.Add(thermoAperture))
	if !c.wait(answerLag) {
		return "", nil
	}
	t.last = scaled(v+thermoOffset+thermoNoise*t.noise.NormFloat64(), 1, 0.01)
	return t.last, nil
}
