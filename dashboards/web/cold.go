package web

import (
	"math"
	"slices"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards/chart"
)

// cold reports whether the set is meant to be without power in a stage.
func cold(s capture.Stage) bool {
	return s == capture.TakeIn || s == capture.ColdChecks || s == capture.Isolate
}

// fallKinds are those whose alarm says that a rail under power has too little.
var fallKinds = []string{"band", "missing", "collapse"}

// coldSpans lists when a rail was without power, by the record: the cold stages,
// and from the switching off of an output until none is off. An alarm of the rail
// that an output's being off did not keep back ends the latter: it was fed from
// elsewhere.
func (v *view) coldSpans(rail string) (out []chart.Span) {
	for _, s := range v.Job.Stages {
		if cold(s.Stage) {
			out = append(out, chart.Span{From: s.From, To: s.To})
		}
	}
	for _, s := range v.offSpans() {
		for _, t := range append(slices.Clone(v.Job.Past), v.Job.Alarms...) {
			fell := t.Rail == rail && slices.Contains(fallKinds, t.Kind)
			if fell && t.Raised > s.From && (s.To == 0 || t.Raised < s.To) {
				s.To = t.Raised
			}
		}
		out = append(out, s)
	}
	return out
}

// offSpans lists when an output was off that had been switched off.
func (v *view) offSpans() (out []chart.Span) {
	var off []string
	for _, e := range v.Job.Entries {
		if e.Act.Verb != capture.ActOutput {
			continue
		}
		before := len(off)
		off = slices.DeleteFunc(off, func(o string) bool { return e.Act.Concerns(o) || (capture.Act{Subject: o}).Concerns(e.Act.Subject) })
		if e.Act.Text == "off" || e.Act.Text == "switching off" {
			off = append(off, e.Act.Subject)
		}
		switch {
		case before == 0 && len(off) > 0:
			out = append(out, chart.Span{From: e.At})
		case before > 0 && len(off) == 0:
			out[len(out)-1].To = e.At
		}
	}
	return out
}

// unfed says why no voltage is expected on a rail that shows less than what is left
// of its own supply's; "" where one is, or something feeds it all the same.
func (v *view) unfed(rv live.RailView) string {
	if rv.Volts == nil || math.Abs(rv.Volts.Reading.Value) >= float64(fedBelow*math.Abs(rv.Rail.Nominal)) {
		return ""
	}
	if cold(v.Job.Stage) {
		return "the stage is " + string(v.Job.Stage)
	}
	if spans := v.coldSpans(rv.Rail.Name); len(spans) > 0 && spans[len(spans)-1].To == 0 {
		return "the output is off"
	}
	return ""
}
