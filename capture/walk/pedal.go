package walk

import (
	"math"

	"steadyrail/capture"
)

// Press is what the pedal, or any key, was made to do.
type Press uint8

// The presses.
const (
	Short Press = iota + 1 // what the screen says that it does: see [View.Key]
	Long                   // skip
	Back                   // take the figure that was filed last again
)

// SkipWhy is the reason of a step that was skipped with the pedal.
const SkipWhy = "skipped in the walk"

// Press takes a press at an instant.
func (m *Machine) Press(at capture.Instant, p Press) []Do {
	if m.state == over {
		return nil
	}
	m.now = max(m.now, at)
	switch {
	case p == Long && m.state == done:
		m.stop("")
	case p == Long:
		m.leave(SkipWhy)
	case p == Back:
		m.again()
	case m.hasLast && (m.state == lifting || m.state == done):
		if m.figures[m.last].AtLeast {
			m.waitFor = m.last
		}
		m.again()
	case m.state == touching:
		m.onIt()
	case m.charge != (charging{}):
		m.waits()
	case m.state == holding && m.note != "" && m.settling.n > 0 && !m.said:
		m.forced, m.sure = !m.stands, m.stands
		m.put()
	case m.state >= holding && m.state <= assuring:
		m.takeBack("taken again")
		m.contact()
		m.state = lifting
		m.openSince = 0
	}
	return m.take()
}

// onIt says that the probe is on the rail although nothing of it is seen: a
// dead rail in volts, an open one in ohms.
func (m *Machine) onIt() {
	if !m.clear || m.now.Sub(m.heard) > QuietFor {
		return
	}
	m.contact()
	m.state, m.said = holding, true
	m.note = ""
	m.put()
}

// again takes the figure filed last back, and asks for it anew.
func (m *Machine) again() {
	if !m.hasLast {
		return
	}
	m.takeBack("taken again")
	before := m.step.Quantity
	if f, ok := m.figures[m.last]; ok && f.Place != 0 {
		m.do = append(m.do, Do{Kind: Withdraw, Step: m.last, At: f.Place, Why: "taken again in the walk"})
	}
	delete(m.figures, m.last)
	m.hasLast = false
	step := m.last
	if step.Quantity == capture.Resistance && !m.proven(step.Rail, m.now) {
		m.ask()
		return
	}
	m.lapsed = ""
	m.turnTo(step, before)
}

// got files the figure of the step and asks for the next.
func (m *Machine) got(r capture.Reading) {
	r = m.less(r)
	f := Figure{Value: m.value(r), At: m.filedAt, Place: m.place}
	f.AtLeast = m.charge != (charging{})
	switch {
	case f.AtLeast:
		f.Text = atLeast(r)
	case r.HasValue():
		f.Text = r.Quantity.Unit().Text(r.Value, r.Resolution)
	default:
		f.Text = "open"
	}
	f.Odd = m.odd(r)
	m.figures[m.step] = f
	m.last, m.lastAt, m.hasLast = m.step, m.now, true
	m.place = 0
	sound := "filed"
	if f.Odd {
		sound = "odd"
	}
	m.voice.filed(sound, f.Text)
	m.ask()
}

// odd reports a figure out of what is expected. The verdict is the rules': this
// is a tone.
func (m *Machine) odd(r capture.Reading) bool {
	rail := m.rail()
	switch {
	case m.step.Quantity == capture.Resistance:
		return !m.step.Reversed && r.HasValue() && r.Value < rail.ShortBelow
	case m.setup.Live:
		return !r.HasValue() || !rail.Bounds.Contains(r.Value)
	}
	return !r.HasValue() || math.Abs(r.Value) >= DeadBelow
}
