package kind

import (
	"math"

	"steadyrail/capture"
)

// charged remembers the newest contact of an ohmmeter on a rail, for its own current
// charges the rail's capacitors: to I·R, with the meter's test current I through the
// rail's R (closed form), and with no R to the voltage at which its source stops.
// The zero value has seen none.
type charged struct {
	at    capture.Instant // of its newest reading; 0: none, or power may have come since
	clean bool            // the rail was proven dead before it
}

// ohmmeterVolts is more than an ordinary ohmmeter has across its leads, in volt
// (common practice, from memory): what is above it is from elsewhere.
const ohmmeterVolts = 3

// keep notes a reading of a contact.
func (c *charged) keep(at capture.Instant, dead bool) {
	if at.Sub(c.at) > contactLost {
		c.clean = false
	}
	c.at, c.clean = at, c.clean || dead
}

// by says that volts which were read on the rail may be the ohmmeter's, and that the
// rail was dead before where that was measured; "" where they are not. That what an
// electrolytic capacitor regains by itself has no part in it is not known.
func (c *charged) by(p proof) string {
	switch {
	case c.at == 0 || p.at.Sub(c.at) > ProofLasts || math.Abs(p.value) >= ohmmeterVolts:
		return ""
	case c.clean:
		return ", dead before its ohms: the ohmmeter's own current charges it"
	}
	return ", maybe from the ohmmeter's own current"
}
