package web

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// TestJobPageShowsFormulas: the figure with its uncertainty and its age, or why
// there is none; a difference of temperatures is in kelvin.
func TestJobPageShowsFormulas(t *testing.T) {
	m := bench(capture.Soak, 3.3, .001)
	if strings.Contains(pageText(t, "job", m), "Formulas") {
		t.Error("a heading over nothing")
	}
	at := m.Snapshot.Now.Add(-2 * time.Second)
	m.Snapshot.Jobs[0].Derived = []capture.Derived{
		{Formula: capture.Formula{Name: "power", Text: "supply/volts * supply/amperes", Unit: "W"}, At: at, Uncertainty: 0.0286,
			Reading: capture.Reading{Quantity: capture.Power, Value: 6.0012, Resolution: 0.01}},
		{Formula: capture.Formula{Name: "rise", Text: "thermo/celsius - 23 degC", Unit: "K"}, At: at,
			Reading: capture.Reading{Value: 12.34, Resolution: 0.1}},
		{Formula: capture.Formula{Name: "share", Text: "dmm/volts / dmm2/volts", Unit: "1"}, At: at, Why: "dmm/volts is more than 1s old"},
	}
	body := strings.ReplaceAll(pageText(t, "job", m), nbsp, " ")
	for _, want := range []string{
		`power<small>supply/volts * supply/amperes</small></th><td class="r" data-h="comes to">6.00 W</td><td class="r" data-h="±&nbsp;(k = 2)">0.03</td><td data-h="age">2.0 s</td>`,
		`<td class="r" data-h="comes to">12.3 K</td>`, `<td colspan="3">no value: dmm/volts is more than 1s old</td>`,
	} {
		if !strings.Contains(body, want) {
			t.Errorf("no %s", want)
		}
	}
}
