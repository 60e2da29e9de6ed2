package rules

import (
	"cmp"
	"math"
	"slices"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// What a soak measures is the mean over a window against the band. Of 144,000
// single readings some hundreds lie outside three standard deviations by chance,
// so that none may be judged by itself; excursions are found by the rules, each
// by its on-delay. A minute is long against the noise and the mains and short
// against the warming of a set (common practice). Where polls are so slow that a
// minute has few readings, a window goes on until it has enough.
const (
	meanWindow   = time.Minute
	meanReadings = 10
)

// means finds the worst window of one clip on a rail. Windows follow each other
// without overlap; one that a gap breaks is given up, and so is the last when it
// is not full, and one with a fall in it: a mean across a fall is the level of
// nothing, and the fall is told by its alarm.
type means struct {
	info  capture.ChannelInfo
	rail  capture.Rail
	place capture.Placement
	off   func(capture.Instant) bool // an output was switched off: a person wanted it
	falls []capture.Gap              // of the rail, as alarms tell of them
	from  capture.Instant            // of the window; 0: none is open
	last  capture.Instant
	kept  []capture.Reading
	worst *capture.SoakFigure
}

func (m *means) read(at capture.Instant, r capture.Reading) {
	if m == nil || !r.Good() || m.rail.Bounds.Low >= m.rail.Bounds.High {
		return
	}
	if m.off(at) || slices.ContainsFunc(m.falls, func(g capture.Gap) bool { return at >= g.From && (g.To == 0 || at <= g.To) }) {
		m.restart(0)
		return
	}
	if m.from == 0 || at.Sub(m.last) > max(meanWindow, 3*m.info.Every) {
		m.restart(at)
	}
	m.kept, m.last = append(m.kept, r), at
	if at.Sub(m.from) >= meanWindow && len(m.kept) >= meanReadings {
		m.judge(at)
		m.restart(0)
	}
}

// fallsOf lists when a rail was down, from the first reading that showed it; To
// is 0 where it still is.
func (b *builder) fallsOf(rail string) (out []capture.Gap) {
	for _, a := range b.out.Alarms {
		if a.Rail != rail || a.Kind != "collapse" && a.Kind != "missing" {
			continue
		}
		from := a.Raised
		for _, t := range a.Transitions {
			for _, e := range t.Evidence {
				from = min(from, e)
			}
		}
		out = append(out, capture.Gap{From: from, To: a.Cleared})
	}
	return out
}

func (m *means) restart(at capture.Instant) { m.from, m.kept = at, m.kept[:0] }

// judge holds the mean of the window against the band, and keeps it when it is
// the worst so far.
func (m *means) judge(at capture.Instant) {
	v := kind.Mean(m.info, m.rail, m.kept)
	now := capture.SoakFigure{Window: meanWindow, Windows: 1, Result: capture.Result{
		Rail: m.rail.Name, Stage: capture.Soak, Quantity: capture.DCVoltage, Value: v.Value, Resolution: v.Resolution, Uncertainty: v.Uncertainty,
		Channel: m.info.ID, Point: cmp.Or(m.place.Point, m.rail.Point), Return: cmp.Or(m.place.Return, m.rail.Return),
		At: at, Span: at.Sub(m.from), N: len(m.kept), Outcome: v.Outcome, Say: v.Say,
	}}
	switch v.Outcome {
	case capture.Pass:
		now.Inside = 1
	case capture.Fail:
		now.Outside = 1
	}
	m.worst = worse(m.rail, m.worst, &now)
}

// worse joins two figures of a rail: the one further out stands, for the windows
// of both.
func worse(rail capture.Rail, a, b *capture.SoakFigure) *capture.SoakFigure {
	if a == nil || b == nil {
		return cmp.Or(a, b)
	}
	out := *a
	if severity(rail, b) > severity(rail, a) {
		out = *b
	}
	out.Windows, out.Inside, out.Outside = a.Windows+b.Windows, a.Inside+b.Inside, a.Outside+b.Outside
	return &out
}

// severity is how far out a mean may lie: beyond the edge, with all of its U.
// Two meters on one rail are not alike, so the value alone does not order them.
func severity(rail capture.Rail, f *capture.SoakFigure) float64 {
	return f.Uncertainty - math.Min(f.Value-rail.Bounds.Low, rail.Bounds.High-f.Value)
}
