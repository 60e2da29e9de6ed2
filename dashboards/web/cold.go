package web

import (
	"math"
	"slices"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards/chart"
)

// cold lists when a rail was without power, by the record of the whole job, and when
// it fell all the same; see [capture.Sheet.Cold].
func (v *view) cold(rail capture.Rail) ([]capture.ColdSpan, []capture.Instant) {
	named := func(name string) bool {
		return slices.ContainsFunc(v.snap.Instruments, func(in live.InstrumentView) bool { return in.Info.Name == name })
	}
	return v.Job.Sheet.Cold(rail, v.Job.Off, named)
}

// coldSpans are the same for a chart.
func coldSpans(cold []capture.ColdSpan) (out []chart.Span) {
	for _, s := range cold {
		out = append(out, chart.Span{From: s.From, To: s.To})
	}
	return out
}

// unfed says why no voltage is expected on a rail that shows less than what is left
// of its own supply's; "" where one is, or something feeds it all the same.
func (v *view) unfed(rv live.RailView) string {
	if rv.Volts == nil || math.Abs(rv.Volts.Reading.Value) >= float64(fedBelow*math.Abs(rv.Rail.Nominal)) {
		return ""
	}
	spans, _ := v.cold(rv.Rail)
	for _, s := range spans {
		if s.To == 0 {
			return s.Why
		}
	}
	return ""
}
