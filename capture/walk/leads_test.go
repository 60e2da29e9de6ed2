package walk

import (
	"math"
	"testing"

	"steadyrail/capture"
)

// A reading has one figure: what the leads have is off it, where its digits show
// that much, and the walk says so.
func TestLeadsAreTakenOffWhatIsFiled(t *testing.T) {
	for _, c := range []struct {
		name       string
		lead       float64
		value, res float64
		want, says string
		odd        bool
	}{
		{"nulled", 0.18, 1.025, 0.001, "0.845 Ω", "In ohms, 0.180 Ω of the leads are taken off.", true},
		{"not nulled", 0, 1.025, 0.001, "1.025 Ω", "In ohms, the leads are in it: they were not nulled.", true},
		{"a short by its leads alone", 0.6, 5.5, 0.01, "4.90 Ω", "In ohms, 0.600 Ω of the leads are taken off.", true},
		{"digits too coarse", 0.18, 4700, 1, "4.700 kΩ", "In ohms, 0.180 Ω of the leads are taken off.", false},
	} {
		s := Setup{Job: "AB-0147", Volts: voltsOn, Ohms: ohmsOn, Rails: []capture.Rail{anyRail(0)}, Lead: c.lead}
		m, _ := New(s, 1)
		m.step = Step{"rail 0", capture.Resistance, false}
		r := capture.Reading{Channel: ohmsOn, Quantity: capture.Resistance, Value: c.value, Resolution: c.res}
		m.reading = r
		if reads := m.View().Reads; reads != c.want {
			t.Errorf("%s: it reads %q, want %q", c.name, reads, c.want)
		}
		m.got(r)
		f := m.figures[Step{"rail 0", capture.Resistance, false}]
		if f.Text != c.want || f.Odd != c.odd || m.View().Leads != c.says {
			t.Errorf("%s: %+v, %q", c.name, f, m.View().Leads)
		}
	}
}

// A null in the walk counts when it is of its job and its meter.
func TestANullInTheWalk(t *testing.T) {
	s := Setup{Job: "AB-0147", Volts: voltsOn, Ohms: ohmsOn, Rails: []capture.Rail{anyRail(0)}}
	m, _ := New(s, 1)
	for i, c := range []struct {
		job, subject string
		ohms, want   float64
	}{
		{"other", string(ohmsOn), 0.5, 0}, {"AB-0147", "another/ohms", 0.4, 0}, {"AB-0147", string(ohmsOn), 0.2, 0.2},
		{"AB-0147", "", 0.3, 0.3}, {"AB-0147", ohmsOn.Instrument(), 0.25, 0.25},
	} {
		m.Consume(capture.Record{At: capture.Instant(2 + i), Job: c.job, Item: capture.Act{Verb: capture.ActNull, Subject: c.subject, Value: c.ohms}})
		if math.Abs(m.setup.Lead-c.want) > 1e-12 {
			t.Errorf("%d: %g, want %g", i, m.setup.Lead, c.want)
		}
	}
	if m, _ := New(Setup{Job: "AB-0147", Volts: voltsOn, Rails: s.Rails, Live: true}, 1); m.View().Leads != "" {
		t.Errorf("said of volts: %q", m.View().Leads)
	}
}
