package walk

import (
	"math"
	"time"

	"steadyrail/capture"
)

// narrower has the meter go down to the range that fits a resistance, and
// reports whether it was told to: what was read on the way does not count.
func (m *Machine) narrower(r capture.Reading) bool {
	if m.step.Quantity != capture.Resistance || m.ranged == 0 {
		return false
	}
	fits := m.fits(r)
	if fits >= m.ranged/10 {
		return false
	}
	m.settling = settling{}
	m.hold(fits)
	return true
}

// What a range has to hold: so many times a figure that stands, or one that may
// have begun to charge a capacitor just now; of one that is seen to charge what it
// comes to at this pace until it is filed, and slackening it comes to less. A range
// too small looks like a lift.
const (
	fitRange     = 3
	chargeRange  = 30
	rangeHoldFor = 6 * time.Second
	paceAfter    = 150 * time.Millisecond // in less the digits make a pace
)

// fits is the range that a resistance needs. How fast it charges is told by two
// readings: before the second one a meter that came down once stays where it is.
func (m *Machine) fits(r capture.Reading) float64 {
	now := math.Abs(r.Value) + float64(3*r.Resolution)
	kept := m.settling.kept
	if len(kept) == 0 && m.ranged == m.setup.TopOhms {
		return chargeRange * now
	}
	if len(kept) == 0 || m.seen.Sub(kept[0].at) < paceAfter {
		return math.Inf(1)
	}
	pace := (r.Value - kept[0].v) / m.seen.Sub(kept[0].at).Seconds()
	return max(float64(fitRange*now), now+float64(pace*rangeHoldFor.Seconds()))
}

// letRange has a meter whose held range is too small range by itself.
func (m *Machine) letRange() {
	if m.step.Quantity == capture.DCVoltage {
		m.hold(0)
	}
}

const aboveRange = "above the meter's range"
