package walk

import (
	"math"

	"steadyrail/capture"
)

// voltageSeen notices that what an ohmmeter shows is a voltage: a resistance
// below nothing. The rail is not dead, and is asked in volts again.
func (m *Machine) voltageSeen(r capture.Reading) bool {
	if m.step.Quantity != capture.Resistance || !r.HasValue() && !r.Flags.Has(capture.UnderRange) {
		return false
	}
	if r.HasValue() && r.Value >= -max(0.5, float64(3*r.Resolution)) {
		return false
	}
	delete(m.figures, Step{m.step.Rail, capture.DCVoltage, false})
	m.takeBack("there was voltage on the rail")
	m.voice.sound("odd")
	m.ask()
	return true
}

// value of a reading; open leads that the pedal vouches for have none.
func (m *Machine) value(r capture.Reading) float64 {
	if !r.HasValue() {
		return 0
	}
	return r.Value
}

// tolerance is what a figure may still change, and how far readings of one
// touch may part. In ohms it is what the rule about shorts lets agree, 5 %: hand-held
// tips scatter by some ten milliohm. In volts it is a tenth of the band
// under power, without power 2 %: what an input above 10 gigaohm still holds of
// a lifted rail falls faster.
func (m *Machine) tolerance(r capture.Reading) float64 {
	least := float64(3 * r.Resolution)
	if m.step.Quantity == capture.Resistance {
		return max(0.05, float64(0.05*math.Abs(r.Value)), least)
	}
	if m.setup.Live {
		return max(m.rail().HalfBand()/5, least)
	}
	return max(0.005, float64(0.02*math.Abs(r.Value)), least)
}

// noise is the standard deviation that a reading is taken to have: contact
// scatter in ohms, digits in volts (common practice).
func (m *Machine) noise(r capture.Reading) float64 {
	if m.step.Quantity == capture.Resistance {
		return max(0.01, float64(0.001*math.Abs(r.Value)), r.Resolution)
	}
	return max(0.0005, float64(0.0001*math.Abs(r.Value)), r.Resolution)
}

func (m *Machine) rail() capture.Rail {
	for _, r := range m.setup.Rails {
		if r.Name == m.step.Rail {
			return r
		}
	}
	return capture.Rail{}
}

// like names another rail whose band holds a voltage that the band of the asked
// one does not.
func (m *Machine) like(r capture.Reading) string {
	if m.step.Quantity != capture.DCVoltage || !m.setup.Live || m.rail().Bounds.Contains(r.Value) {
		return ""
	}
	for _, other := range m.setup.Rails {
		if other.Name != m.step.Rail && !math.IsInf(other.Bounds.Width(), 1) && other.Bounds.Contains(r.Value) {
			return other.Name
		}
	}
	return ""
}
