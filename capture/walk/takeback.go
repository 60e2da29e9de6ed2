package walk

import "steadyrail/capture"

// stale goes back to volts when the proof for the ohms that are asked has aged
// out.
func (m *Machine) stale() {
	if m.step.Quantity == capture.Resistance && m.state < done && !m.proven(m.step.Rail, m.now) {
		m.takeBack("the proof that the rail is dead was out of date")
		m.ask()
	}
}

// lose forgets the contact: it has to be lifted and touched again.
func (m *Machine) lose(why string) {
	if m.state == done {
		return
	}
	m.takeBack("no contact that can be vouched for")
	m.state, m.openSince, m.note, m.gone = lifting, 0, why, true
	m.contact()
}

// takeBack corrects a placement whose figure was not finished.
func (m *Machine) takeBack(why string) {
	if m.place != 0 {
		m.do = append(m.do, Do{Kind: Withdraw, Step: m.step, At: m.place, Why: why})
	}
	m.place, m.placing, m.filed = 0, false, settling{}
}

// Refused tells that a placement or a selection was refused, with the reason:
// the step is left out.
func (m *Machine) Refused(at capture.Instant, why string) []Do {
	if m.state >= done {
		return nil
	}
	m.now, m.placing = max(m.now, at), false
	m.leave(why)
	return m.take()
}

// leave ends the step without a figure.
func (m *Machine) leave(why string) {
	m.takeBack(why)
	m.figures[m.step] = Figure{Why: why}
	m.do = append(m.do, Do{Kind: Skip, Step: m.step, Why: why})
	m.ask()
}
