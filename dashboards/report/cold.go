package report

import (
	"steadyrail/capture"
	"steadyrail/dashboards/chart"
)

// withoutPower gives a chart of a rail when it was without power, as the page of the
// rail has it: what lies below the band then is no fall.
func (t teller) withoutPower(m *chart.RailModel) {
	var off capture.PowerOff
	for _, e := range t.d.Entries {
		off.Act(e.At, e.Act)
	}
	for _, a := range t.d.Alarms {
		off.Alarm(capture.Transition{Kind: a.Kind, Rail: a.Rail, Raised: a.Raised})
	}
	instrument := func(name string) bool {
		_, is := t.d.Roster.Instrument(name)
		return is
	}
	cold, fell := t.d.Sheet.Cold(m.Rail, off.Spans(), instrument)
	m.Fell = fell
	for _, s := range cold {
		m.Cold = append(m.Cold, chart.Span{From: s.From, To: s.To})
	}
}
