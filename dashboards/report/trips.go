package report

import (
	"steadyrail/capture"
)

// tripView is what the second line did in the job.
type tripView struct {
	Rows     []entryRow
	Worst    string // "83 ms"; empty: none was confirmed
	Cautions []string
}

// trips picks out what was done by a trip and what it came to; nil when nothing
// was.
func (t teller) trips() *tripView {
	out := tripView{Cautions: capture.TripCaution[:]}
	worst := 0.0
	for _, e := range t.d.Entries {
		if e.Act.By != capture.ByTrip || e.Act.Verb == capture.ActOutput && e.Act.Text == "switching off" {
			continue // only announced: what became of it comes next
		}
		if e.Act.Tripped() {
			worst = max(worst, e.Act.Value)
		}
		out.Rows = append(out.Rows, t.entry(e))
	}
	if len(out.Rows) == 0 {
		return nil
	}
	if worst > 0 {
		out.Worst = capture.Second.Text(worst, 0.001)
	}
	return &out
}
