package walk

import (
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
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
	// filed after it, the probe is held for about two seconds.
	ChargesAfter = 1000 * time.Millisecond
	// soonSteady is what is waited for instead.
	soonSteady = 500 * time.Millisecond
	// farAbove is how many times the threshold and ordinary leads a lower bound has
	// to be. The verdict is the rules': this only saves asking twice.
	farAbove = 5
	// leadsAtMost is what leads add when they are not nulled, ohm (common practice).
	leadsAtMost = 0.5
	// paceOff is by which part of the expected rise the next reading may be off.
	paceOff = 0.25
)

// charging is the law that a touch follows. The zero value is none.
type charging struct {
	end, tau float64 // ohm, s
	pace     float64 // ohm per second, where no end is in sight: a straight line
}

// law is the charge that is seen now, false where it does not rise along one.
func (s *settling) law(rest float64, tau float64) (charging, bool) {
	newest, mean := s.kept[len(s.kept)-1].v, s.mean()
	rises := mean > s.first.v && newest > mean
	if tau > 0 {
		return charging{end: newest + rest, tau: tau}, rises
	}
	return charging{pace: (mean - s.first.v) / s.middle().Sub(s.first.at).Seconds()}, rises
}

// quietIn is how long it takes, in s, until what is kept of a charge parts by no
// more than tol: longer than until no more than tol is to come, where the time
// that is looked back over is longer than the time constant. Along the law the
// readings of a span w part by rest·(e^(w/tau) - 1).
func (s *settling) quietIn(rest, tau, tol float64) float64 {
	if tau <= 0 {
		return math.Inf(1)
	}
	w := s.kept[len(s.kept)-1].at.Sub(s.kept[0].at).Seconds()
	return tau * elementary.Log(rest*max(1, elementary.Expm1(w/tau))/tol)
}

// next is what a reading becomes in a time.
func (c charging) next(v float64, in time.Duration) float64 {
	if c.tau <= 0 {
		return v + float64(c.pace*in.Seconds())
	}
	return c.end - float64((c.end-v)*elementary.Exp(-in.Seconds()/c.tau))
}

// bound reports whether the reading is filed as a lower bound, and takes the law.
func (m *Machine) bound(r capture.Reading) bool {
	if m.step.Quantity != capture.Resistance || m.waitFor == m.step || m.seen.Sub(m.touchedAt) < ChargesAfter {
		return false
	}
	limit := m.rail().ShortBelow
	if limit <= 0 || r.Value < float64(farAbove*(limit+leadsAtMost)) || !m.settling.enough() || m.settling.flat(m.noise(r)) {
		return false
	}
	rest, tau := m.settling.rest(m.noise(r))
	law, rises := m.settling.law(rest, tau)
	if !rises || m.settling.quietIn(rest, tau, m.tolerance(r)) < soonSteady.Seconds() {
		return false
	}
	m.charge = law
	return true
}

// onCurve reports whether a reading is where the charge that was seen leads: what
// stays behind or runs ahead is another point.
func (m *Machine) onCurve(r capture.Reading) bool {
	due := m.due()
	rise := due - m.mean
	return math.Abs(m.value(r)-due) <= max(0.05, float64(0.01*math.Abs(due)))+float64(paceOff*math.Abs(rise))+float64(3*r.Resolution)
}

// due is what the next reading should be: the newest, and the pace of the last
// three, which slackens as the law has it. The law alone, taken early, is not
// sharp enough.
func (m *Machine) due() float64 {
	kept, ahead := m.settling.kept, m.seen.Sub(m.meanAt)
	if n := len(kept); n >= 3 && m.charge.tau > 0 {
		a, b := kept[n-3], kept[n-1]
		span := b.at.Sub(a.at).Seconds()
		now := (b.v - a.v) / span * elementary.Exp(-span/2/m.charge.tau)
		return m.mean + float64(now*m.charge.tau*-elementary.Expm1(-ahead.Seconds()/m.charge.tau))
	}
	return m.charge.next(m.mean, ahead)
}

// follow has the law follow what was on it: taken early, it leads astray soon.
func (m *Machine) follow(r capture.Reading) {
	m.settling.add(m.seen, m.value(r))
	if law, rises := m.settling.law(m.settling.rest(m.noise(r))); rises {
		m.charge = law
	}
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
