package walk

import (
	"time"

	"steadyrail/capture"
)

// sureWithin is how long the probe is held at most, from the first figure that is
// filed, for a rule that is not sure yet: scattering tips are told from a creep
// by eight readings, four a second.
const sureWithin = 2 * time.Second

// Unsure tells, before a reading is fed, that the rules say nothing of the rail
// with it although they will. Without a word of it nobody is waited for.
func (m *Machine) Unsure(is bool) { m.unsure = is }

// judged reports whether the rules have said what they say of the figure, or are
// not waited for: of what the pedal vouches for they are never sure.
func (m *Machine) judged() bool {
	return !m.unsure || m.said || m.forced || m.filed.since(m.seen) >= sureWithin
}

// straddles reports whether a reading began before the placement that it would be
// filed under: half an aperture earlier than its exchange, as the rules have it.
func (m *Machine) straddles(r capture.Reading) bool {
	look := m.setup.ApertureVolts
	if m.step.Quantity == capture.Resistance {
		look = m.setup.ApertureOhms
	}
	return r.Measured != 0 && r.Measured.Add(-r.HalfWidth-look/2) < m.place
}
