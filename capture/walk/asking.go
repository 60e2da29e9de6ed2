package walk

import "steadyrail/capture"

// ask goes to the next step.
func (m *Machine) ask() {
	before := m.step.Quantity
	step, more := m.next(m.now)
	if !more {
		m.state, m.asked, m.note = done, m.now, ""
		m.voice.finish()
		return
	}
	m.turnTo(step, before)
}

// turnTo begins a step, with the meter set for it.
func (m *Machine) turnTo(step Step, before capture.Quantity) {
	m.begin(step)
	if step.Quantity != before {
		m.do = append(m.do, Do{Kind: Select, Step: step})
		m.ranged = 0
	}
	m.wide()
}

// wide has the meter hold a range in which a touch anywhere is seen at once:
// what ranges by itself from open leads to a short looks away for seconds.
func (m *Machine) wide() {
	if m.step.Quantity == capture.Resistance {
		m.hold(m.setup.TopOhms)
		return
	}
	m.hold(m.setup.TopVolts)
}

func (m *Machine) hold(atLeast float64) {
	if atLeast == 0 && m.ranged == 0 || atLeast == m.ranged {
		return
	}
	m.ranged = atLeast
	m.do = append(m.do, Do{Kind: Range, Step: m.step, Value: atLeast})
}

// begin asks for a step: whatever was seen before says nothing.
func (m *Machine) begin(step Step) {
	m.step, m.state, m.asked, m.note = step, lifting, m.now, ""
	m.openSince, m.place, m.placing = 0, 0, false
	m.refused, m.held, m.urged, m.reading, m.heard = false, false, false, capture.Reading{}, m.now
	m.contact()
	m.voice.ask(step, m.lapsed != "")
}

// contact forgets the touch.
func (m *Machine) contact() {
	m.settling, m.filed, m.said, m.forced, m.sure, m.stands, m.told = settling{}, settling{}, false, false, false, false, false
	m.touchedAt, m.charge = 0, charging{}
}
