package rules

import (
	"cmp"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// tail is the newest minute of good readings.
type tail struct {
	at   []capture.Instant
	v    []capture.Reading
	span capture.Placement
	room kind.Room
}

const tailSpan = time.Minute

func (t *tail) add(at capture.Instant, r capture.Reading, p capture.Placement) {
	if moved(t.span, p) || t.span.Channel != p.Channel {
		t.at, t.v, t.span = t.at[:0], t.v[:0], p
	}
	n := 0
	for n < len(t.at) && at.Sub(t.at[n]) > tailSpan {
		n++
	}
	t.at, t.v = append(t.at[n:], at), append(t.v[n:], r)
}

// after drops the readings before an instant, unless none would be left.
func (t *tail) after(at capture.Instant) {
	n := 0
	for n < len(t.at) && t.at[n] < at {
		n++
	}
	if n < len(t.at) {
		t.at, t.v = t.at[n:], t.v[n:]
	}
}

// lastFall is when the rail was up again after it last fell, or when it fell if
// it still is down: a mean across a fall is the level of nothing. The fall is
// told by its alarm and the soak.
func (b *builder) lastFall(rail string) (at capture.Instant) {
	for _, a := range b.out.Alarms {
		if a.Rail == rail && (a.Kind == "collapse" || a.Kind == "missing" && a.Untold() == "") {
			at = max(at, cmp.Or(a.Cleared, a.Raised))
		}
	}
	return at
}

// loaded is the mean of the last minute under load: of the soak, else of the
// warm-up.
func (w *walker) loaded(r *railWalk) (capture.Result, bool) {
	t, stage, any := r.final(2)
	if !any {
		return capture.Result{}, false
	}
	t.after(w.b.lastFall(r.rail.Name))
	mean := w.figure(r.rail, t).Judge()
	n := len(t.v)
	return capture.Result{
		Rail: r.rail.Name, Stage: stage, Quantity: capture.DCVoltage, Value: mean.Value, Resolution: t.v[n-1].Resolution,
		Uncertainty: mean.Expanded, Channel: t.span.Channel, Point: cmp.Or(t.span.Point, r.rail.Point), Return: cmp.Or(t.span.Return, r.rail.Return),
		At: t.at[n-1], Span: t.at[n-1].Sub(t.at[0]), N: n, Outcome: mean.Outcome, Say: mean.Say,
	}, true
}
