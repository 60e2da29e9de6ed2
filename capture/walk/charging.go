package walk

import (
	"math"
	"time"

	"steadyrail/capture"
)

// A rail whose capacitors charge for longer than a hand should hold still is
// filed as a lower bound: an ohmmeter charges R parallel to C along
//
//	v(t) = R·(1 - e^(-t/RC))
//
// (closed charging law), so what still rises is at least what it reads, and far
// above the threshold it is no short (common practice). The pedal asks for the
// steady figure.
const (
	// ChargesAfter is how long a touch is waited for to become steady; with what is
	// filed after it, the probe is held for about three seconds.
	ChargesAfter = 1800 * time.Millisecond
	// soonSteady is what is waited for instead.
	soonSteady = 500 * time.Millisecond
	// farAbove is how many times the threshold and ordinary leads a lower bound has
	// to be. The verdict is the rules': this only saves asking twice.
	farAbove = 10
	// leadsAtMost is what leads add when they are not nulled, ohm (common practice).
	leadsAtMost = 0.5
	// paceOff is by which part of the expected rise the next reading may be off.
	paceOff = 0.25
)

// charging is the law that a touch follows. The zero value is none.
type charging struct {
	end, tau float64 // ohm, s
}

// law is the charge that is seen now, false where it does not rise along one.
func (s *settling) law(rest float64, tau float64) (charging, bool) {
	newest := s.kept[len(s.kept)-1].v
	return charging{newest + rest, tau}, tau > 0 && s.mean() > s.first.v && newest > s.mean()
}

// next is what a reading becomes in a time.
func (c charging) next(v float64, in time.Duration) float64 {
	return c.end - float64((c.end-v)*math.Exp(-in.Seconds()/c.tau))
}

// bound reports whether the reading is filed as a lower bound, and takes the law.
func (m *Machine) bound(r capture.Reading) bool {
	if m.step.Quantity != capture.Resistance || m.waitFor == m.step || m.now.Sub(m.touchedAt) < ChargesAfter {
		return false
	}
	limit := m.rail().ShortBelow
	if limit <= 0 || r.Value < float64(farAbove*(limit+leadsAtMost)) {
		return false
	}
	rest, tau := m.settling.rest(m.noise(r))
	law, rises := m.settling.law(rest, tau)
	if !rises || float64(tau*math.Log(rest/m.tolerance(r))) < soonSteady.Seconds() {
		return false
	}
	m.charge = law
	return true
}

// onCurve reports whether a reading is where the charge that was seen leads: what
// stays behind or runs ahead is another point.
func (m *Machine) onCurve(r capture.Reading) bool {
	due := m.charge.next(m.mean, m.now.Sub(m.meanAt))
	rise := due - m.mean
	return math.Abs(m.value(r)-due) <= max(0.05, float64(0.01*math.Abs(due)))+float64(paceOff*math.Abs(rise))+float64(3*r.Resolution)
}

// waits has the pedal ask for the steady figure of the step: the probe stays on.
func (m *Machine) waits() {
	m.takeBack("the steady figure was asked for")
	m.waitFor, m.charge, m.state = m.step, charging{}, holding
}

// atLeast writes a lower bound with three digits, rounded down.
func atLeast(r capture.Reading) string {
	digit := r.Resolution
	for digit <= 0 || r.Value >= 1000*digit {
		digit = max(10*digit, 1e-3)
	}
	return "at least " + r.Quantity.Unit().Text(float64(math.Floor(r.Value/digit)*digit), digit) + ", still charging"
}
