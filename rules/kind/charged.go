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

// toDo is what is to be done about volts on a rail that may be the ohmmeter's, told with
// what is known of that: that the rail was dead before where it was measured, else that
// they may be. never says that no output was switched on in the job: then the probe may
// have been on the rail, in ohms, before anybody said so. That what an electrolytic
// capacitor regains by itself has no part in it is not known.
func (c *charged) toDo(p proof, never bool) string {
	recent := c.at != 0 && p.at.Sub(c.at) <= ProofLasts
	what := ", maybe from the ohmmeter's own current"
	switch {
	case math.Abs(p.value) >= ohmmeterVolts, !recent && !never:
		return firstDischarge
	case recent && c.clean:
		what = ", dead before its ohms: the ohmmeter's own current charges it"
	}
	return what + "; read its volts until they are below 50 mV, or discharge it"
}

// firstDischarge is what is to be done about any other volts.
const firstDischarge = ", discharge it first"
