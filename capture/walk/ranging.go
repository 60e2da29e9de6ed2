package walk

import (
	"math"

	"steadyrail/capture"
)

// narrower has the meter go down to the range that fits a resistance, and
// reports whether it was told to: what was read on the way does not count.
func (m *Machine) narrower(r capture.Reading) bool {
	if m.step.Quantity != capture.Resistance || m.ranged == 0 {
		return false
	}
	fits := float64(m.room(r) * (math.Abs(r.Value) + float64(3*r.Resolution)))
	if fits >= m.ranged/10 {
		return false
	}
	m.settling = settling{}
	m.hold(fits)
	return true
}

// fitRange leaves room for a capacitor that goes on charging, chargeRange for one
// that may have begun just now: a range too small looks like a lift.
const (
	fitRange    = 3
	chargeRange = 10
)

// room is how many times the reading the range has to hold.
func (m *Machine) room(r capture.Reading) float64 {
	if n := len(m.settling.kept); n > 0 && math.Abs(r.Value-m.settling.kept[n-1].v) <= m.same(r) {
		return fitRange
	}
	return chargeRange
}

// letRange has a meter whose held range is too small range by itself.
func (m *Machine) letRange() {
	if m.step.Quantity == capture.DCVoltage {
		m.hold(0)
	}
}

const aboveRange = "above the meter's range"
