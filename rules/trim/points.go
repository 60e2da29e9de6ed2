package trim

import (
	"fmt"
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// kept is a steady value that was kept.
type kept struct {
	point   capture.TrimPoint
	state   uncertainty.Statement
	touches int // made before it
}

// told is the point for people; nil when none was kept.
func (k *kept) told() *capture.TrimPoint {
	if k == nil {
		return nil
	}
	p := k.point
	return &p
}

// mostMarks bounds what is remembered of a rail.
const mostMarks = 32

func (w *watch) keep(at capture.Instant, stage capture.Stage, as capture.MarkedAs, marked bool) (kept, bool) {
	s, steady := w.track.now()
	if !steady {
		return kept{}, false
	}
	return w.keepStretch(s, at, stage, as, marked), true
}

func (w *watch) keepStretch(s stretch, at capture.Instant, stage capture.Stage, as capture.MarkedAs, marked bool) kept {
	state := w.statement(s)
	return kept{
		point: capture.TrimPoint{
			At: at, Stage: stage, Channel: w.on.ID, Point: w.place.Point, Value: state.Value, U: state.Expanded, As: as, Marked: marked,
		},
		state: state, touches: len(w.touches),
	}
}

// hold remembers what was steady before something changes: a person switches off
// before a converter is fitted, and its preset is what was read until then. The
// newest bins may be in the fall already.
func (w *watch) hold() {
	s, steady := w.before, false
	if w.track.steady && len(w.track.ring) > offBins {
		now := w.track.stretch(w.track.ring[:len(w.track.ring)-offBins])
		s, steady = &now, true
	}
	if s == nil || !steady && len(w.track.ring) > leastBins {
		return
	}
	k := w.keepStretch(*s, s.to, "", capture.MarkedAs{}, false)
	w.held = &k
}

// mark keeps what is steady now, as a person asked.
func (w *watch) mark(at capture.Instant, stage capture.Stage, a capture.Act) {
	as, err := capture.ParseMarkedAs(a.Text)
	if err != nil {
		return
	}
	w.loadStep(as)
	k, ok := w.keep(at, stage, as, true)
	if !ok {
		return
	}
	w.marks = append(w.marks, k)
	if len(w.marks) > mostMarks {
		w.marks = w.marks[1:]
	}
	switch {
	case stage == capture.Preset:
		w.preset, w.fitted, w.touchedFitted = &k, nil, false
	case stage == capture.Trim && w.preset != nil && k.touches == w.preset.touches:
		w.fitted = &k
	}
}

// loadStep takes back a touch that was none: between two marks of different loads
// lies the step of the load. Typed turns make it a touch all the same.
func (w *watch) loadStep(as capture.MarkedAs) {
	n := len(w.marks)
	if n == 0 || as.Load == nil || w.marks[n-1].point.As.Load == nil || *as.Load == *w.marks[n-1].point.As.Load {
		return
	}
	if k := len(w.touches); k == w.marks[n-1].touches+1 && w.touches[k-1].Turns == 0 {
		w.touches = w.touches[:k-1]
	}
}

// presetEnds keeps what was steady at the end of the preset, unless a person
// marked it.
func (w *watch) presetEnds() {
	if w.preset != nil && w.preset.point.Marked && w.preset.touches == len(w.touches) {
		return
	}
	none := 0.0
	as := capture.MarkedAs{Load: &none, From: "stage preset"}
	k, ok := w.keep(w.lastAt, capture.Preset, as, false)
	if !ok && w.held != nil && w.held.touches == len(w.touches) {
		k, ok = *w.held, true
		k.point.Stage, k.point.As = capture.Preset, as
	}
	if ok {
		w.preset, w.fitted, w.touchedFitted = &k, nil, false
	}
}

// steadyIn keeps the first steady value under load: it is held against the
// preset as long as nobody touched the screw.
func (w *watch) steadyIn(stage capture.Stage) {
	if stage != capture.Trim || w.preset == nil || w.fitted != nil {
		return
	}
	if w.preset.touches != len(w.touches) {
		w.touchedFitted = true
		return
	}
	if k, ok := w.keep(w.lastAt, stage, capture.MarkedAs{}, false); ok && !w.touchedFitted {
		w.fitted = &k
	}
}

// findings says what fitting did, and what the load alone does.
func (w *watch) findings() (out []string) {
	if s := w.fitInShift(); s != "" {
		out = append(out, s)
	}
	if s := w.regulation(); s != "" {
		out = append(out, s)
	}
	return out
}

func (w *watch) fitInShift() string {
	switch {
	case w.preset == nil:
		return ""
	case w.touchedFitted && w.fitted == nil:
		return "Fit-in shift cannot be told: the screw was turned before anything was steady under load"
	case w.fitted == nil:
		return ""
	}
	d, meter := w.difference(*w.fitted, *w.preset)
	return fmt.Sprintf("Fit-in shift %s: %s without load, %s fitted (leads, line, heat and load together; no load regulation)%s",
		w.figure(d), w.volts(w.preset.point.Value), w.volts(w.fitted.point.Value), meter)
}

// difference is a - b by magnitude, and what is to be said of the meter.
func (w *watch) difference(a, b kept) (uncertainty.Statement, string) {
	same := a.point.Channel == b.point.Channel
	d := uncertainty.Difference(a.state, b.state, same)
	if w.rail.Nominal < 0 {
		d.Value = -d.Value
	}
	switch {
	case !d.Stated:
		return d, "; indicated only, no accuracy stated"
	case same:
		return d, "; one meter for both, so what its gain is off cancels"
	}
	return d, "; two meters, each with its own error"
}

// together is how far apart two marks may lie to be at one temperature: a converter
// that was just switched on warms by some kelvin in minutes (common practice).
const together = time.Minute

// regulation is what two marks with stated loads say: the same input, the same
// points, no touch between, (V(I1) - V(I2)) / V(I2) for I1 - I2.
func (w *watch) regulation() string {
	n := len(w.marks)
	for k := n - 1; k > 0; k-- {
		for i := k - 1; i >= 0; i-- {
			a, b := w.marks[i], w.marks[k]
			if a.point.As.Load == nil || b.point.As.Load == nil || *a.point.As.Load == *b.point.As.Load {
				continue
			}
			if *a.point.As.Load < *b.point.As.Load { // the greater load first
				a, b = b, a
			}
			return w.regulated(a, b)
		}
	}
	return ""
}

func (w *watch) regulated(a, b kept) string {
	if why := unlike(a, b); why != "" {
		return "Load regulation cannot be told: " + why
	}
	d, meter := w.difference(a, b)
	base := math.Abs(b.point.Value)
	part, doubt := 100*d.Value/base, ""
	if d.Stated {
		doubt = fmt.Sprintf(" ± %s", capture.Figure(100*d.Expanded/base, digits(100*d.Expanded/base)))
	}
	step := *a.point.As.Load - *b.point.As.Load
	say := fmt.Sprintf("Load regulation %s%s %% for %s: %s from %s to %s%s", capture.Figure(part, digits(100*max(d.Expanded, w.last.Resolution)/base)), doubt,
		capture.Ampere.Text(step, 0.001), w.figure(d), capture.Ampere.Text(*b.point.As.Load, 0.001), capture.Ampere.Text(*a.point.As.Load, 0.001), meter)
	if apart := max(a.point.At.Sub(b.point.At), b.point.At.Sub(a.point.At)); apart > together {
		say += fmt.Sprintf("; %d min lie between, and warming is in it", int(apart.Minutes()))
	}
	return say
}

// unlike says why two marks tell more than the load apart.
func unlike(a, b kept) string {
	ia, ib := a.point.As.Input, b.point.As.Input
	switch {
	case a.touches != b.touches:
		return "between the two marks the rail moved once more, by the screw or by a load that changed by itself: mark both again, soon one after the other"
	case a.point.Channel != b.point.Channel || a.point.Point != b.point.Point:
		return "the two marks are not from one meter at one point"
	case ia == nil || ib == nil:
		return "say the input voltage of both marks"
	case math.Abs(*ia-*ib) > math.Abs(*ia)/100:
		return fmt.Sprintf("the input was %s and %s", capture.Volt.Text(*ia, 0.01), capture.Volt.Text(*ib, 0.01))
	}
	return ""
}
