package sim

import "math"

// Healthy is the Alderbrook's board as it left the works: nothing on it is
// broken. What it reads is what the board's sheet has to say.
func Healthy() Scenario {
	s := Alderbrook()
	s.Short = ps2Ohms
	return s
}

// ps2Ohms is a PS2 that is well: its output to the return, cold.
const ps2Ohms = 600.0

// Exchange turns a meter's leads round, red on the return, from its next touch
// on, or back again. The rails of the board and PS2's pin are modelled
// backwards; the stand-in by itself is a dead short that way, as a converter
// with a diode for a switch nearly is.
func (b *Bench) Exchange(instrument string, reversed bool) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	m, err := b.meter(instrument)
	if err != nil {
		return err
	}
	m.back = reversed
	return nil
}

// What a rail's semiconductors conduct when its voltage is the wrong way round:
// a diode's law (Shockley), with figures between those of a silicon and of a
// Schottky junction. The -12 V rail has none that a meter reaches: it reads the
// same both ways.
const (
	backSaturation = 2e-7  // A
	backThermal    = 0.035 // V, emission coefficient times thermal voltage
)

// backVolts is how far below nothing a test current, in ampere, can pull a rail
// with conductance g: V g + Is (e^(V/nVt) − 1) = amps.
func backVolts(amps, g float64) float64 {
	if amps <= 0 {
		return 0
	}
	low, high := 0.0, amps/(g+minBleed)
	for range 50 {
		mid := (low + high) / 2
		if mid*g+backSaturation*math.Expm1(mid/backThermal) > amps {
			high = mid
		} else {
			low = mid
		}
	}
	return low
}

// notBelow keeps a rail from going the wrong way further than what a meter
// injects can pull it.
func notBelow(v, injected, g float64) float64 {
	if v >= 0 {
		return v
	}
	return math.Max(v, -backVolts(-injected, g))
}
