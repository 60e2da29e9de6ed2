package walk

import "steadyrail/capture"

// less takes what the leads have off a resistance, as the rule about shorts does:
// only where the last digit is not coarser than that. A reading has one figure
// everywhere then, and it is the rail's.
func (m *Machine) less(r capture.Reading) capture.Reading {
	if r.Quantity == capture.Resistance && r.HasValue() && m.setup.Lead > 0 && r.Resolution <= m.setup.Lead {
		r.Value -= m.setup.Lead
	}
	return r
}

// leads says which figure stands in the walk.
func (m *Machine) leads() string {
	switch {
	case m.setup.Ohms == "":
		return ""
	case m.setup.Lead > 0:
		return "In ohms, " + capture.Ohm.Text(m.setup.Lead, 0.001) + " of the leads are taken off."
	}
	return "In ohms, the leads are in it: they were not nulled."
}

// renulled takes a null of its job that comes in the walk.
func (m *Machine) renulled(job string, a capture.Act) {
	if a.Verb != capture.ActNull || job != m.setup.Job {
		return
	}
	if s := a.Subject; s == "" || s == string(m.setup.Ohms) || s == m.setup.Ohms.Instrument() {
		m.setup.Lead = a.Value
	}
}
