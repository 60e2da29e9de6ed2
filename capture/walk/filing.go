package walk

import (
	"math"
	"time"

	"steadyrail/capture"
)

// put has the channel placed.
func (m *Machine) put() {
	if m.step.Quantity == capture.Resistance && !m.proven(m.step.Rail, m.now) {
		m.stale()
		return
	}
	if m.settling.n > 0 {
		newest := m.settling.kept[len(m.settling.kept)-1]
		m.mean, m.meanAt = newest.v, newest.at
	}
	m.state, m.placing, m.filed = filing, true, settling{}
	m.do = append(m.do, Do{Kind: Place, Step: m.step, Why: m.why()})
}

func (m *Machine) why() string {
	switch {
	case m.said:
		return "walk, the touch said by the pedal"
	case m.charge != (charging{}):
		return "walk, still charging: at least what it reads"
	case m.forced:
		return "walk, not standing, filed by the pedal"
	case m.sure:
		return "walk, the rail confirmed by the pedal"
	}
	return "walk"
}

// file counts what is filed, and takes it all back at the first reading that
// does not agree.
func (m *Machine) file(r capture.Reading, open, touch, counts bool) {
	if !m.agrees(r, open, touch) {
		m.anew(r, open, touch)
		return
	}
	if !counts {
		return
	}
	m.filed.add(m.seen, m.value(r))
	if m.filed.n >= m.needs() && m.filed.since(m.seen) >= m.span() && m.judged() {
		m.state, m.filedLast, m.filedAt = assuring, r, m.now
		m.do = append(m.do, Do{Kind: Off, Step: m.step, At: m.place})
	}
}

// assure looks at one more reading, which is not filed: a slip to a point that
// happened to read alike, just when a capacitor charged through the figure, is
// seen by it. Who lifts before the beep has filed nothing.
func (m *Machine) assure(r capture.Reading, open, touch bool) {
	if m.agrees(r, open, touch) {
		m.got(m.filedLast)
		return
	}
	m.anew(r, open, touch)
}

// anew takes an attempt back and begins the touch anew.
func (m *Machine) anew(r capture.Reading, open, touch bool) {
	m.takeBack("the touch ended before the figure was filed")
	m.contact()
	m.state = touching
	if open {
		m.wide()
	}
	if touch {
		m.state = holding
		m.steady(r)
	}
}

func (m *Machine) needs() int {
	if m.step.Quantity == capture.Resistance {
		return fileOhms
	}
	return fileVolts
}

func (m *Machine) span() time.Duration {
	if m.step.Quantity == capture.Resistance {
		return spanOhms
	}
	return spanVolts
}

// agrees reports whether a reading is of the same touch.
func (m *Machine) agrees(r capture.Reading, open, touch bool) bool {
	switch {
	case m.said:
		return !touch
	case open || !touch || !r.HasValue():
		return false
	case m.forced:
		return true
	}
	near := math.Abs(m.value(r)-m.mean) <= m.same(r)
	if m.charge != (charging{}) {
		if near = m.onCurve(r); near {
			m.follow(r)
		}
	}
	m.mean, m.meanAt = m.value(r), m.seen
	return near
}

// same is how far one filed reading may lie from the one before, so that a slip
// to another point is seen at once: in ohms 1 %, and what a capacitor whose rest
// is within the tolerance may still add in the time between them.
func (m *Machine) same(r capture.Reading) float64 {
	if m.step.Quantity != capture.Resistance {
		return m.tolerance(r)
	}
	part := 0.01 + float64(0.03*m.seen.Sub(m.meanAt).Seconds())
	return max(0.05, float64(min(part, 0.05)*math.Abs(r.Value)), float64(3*r.Resolution))
}
