package report

import (
	"slices"
	"strings"
	"testing"

	"steadyrail/capture"
)

// What was read while its own output was off by hand is drawn softly in the report's
// chart, as on the page of the rail, and no fall; what another output does is none of
// this rail's.
func TestChartsTellWithoutPower(t *testing.T) {
	story := clean()
	story.Sheet.Rails = slices.Clone(story.Sheet.Rails) // other tests have them too
	rail := &story.Rails[0]
	rail.Rail.FedFrom = "supply/1"
	story.Sheet.Rails[0].FedFrom = "supply/1"
	story.Roster.Instruments = append(story.Roster.Instruments, capture.InstrumentInfo{Name: "supply"})
	n := len(rail.Series)
	from, to := n/3, n/2
	for i := from; i < to; i++ {
		b := &rail.Series[i]
		b.Min, b.Mean, b.Max = 0, 0.001, 0.002
	}
	for output, soft := range map[string]bool{"supply/1": true, "supply": true, "supply/2": false} {
		d := story
		d.Entries = []capture.Entry{
			{At: rail.Series[from].From, Act: capture.Act{Verb: capture.ActOutput, Subject: output, Text: "off"}},
			{At: rail.Series[to].From, Act: capture.Act{Verb: capture.ActOutput, Subject: output, Text: "on"}},
		}
		fig, err := teller{d, options()}.railChart(*rail, 0, true)
		if err != nil {
			t.Fatal(err)
		}
		svg := string(fig.SVG)
		if got := strings.Contains(svg, ">without power<"); got != soft {
			t.Errorf("%s off: without power: %v", output, got)
		}
		if red := strings.Contains(svg, "down to"); red == soft {
			t.Errorf("%s off: a fall: %v", output, red)
		}
	}
}
