package rules

import (
	"cmp"
	"slices"

	"steadyrail/capture"
)

// contact is one result and the contact it belongs to.
type contact struct {
	since  capture.Instant
	result capture.Result
	judged bool // there was an outcome, and what it asks for first was there
}

// found keeps the verdict of the first contact of each quantity, as it stood
// when that contact ended, and for ohms that of the last.
func (w *walker) found(rail *railWalk, q capture.Quantity, v capture.Verdict) {
	c := w.contact(rail, q, v)
	i := slices.IndexFunc(rail.before, func(o contact) bool { return o.result.Quantity == q })
	switch {
	case i < 0:
		rail.before = append(rail.before, c)
	case rail.before[i].since == c.since && rail.before[i].judged && !c.judged && v.Outcome != capture.NoData:
		// The proof that it was dead went during the contact, such as when a
		// supply was set: what was read before that stands.
	case !rail.before[i].judged && rail.before[i].result.Stage == w.stage, rail.before[i].since == c.since && rail.before[i].result.Channel == v.Channel:
		rail.before[i] = c
	case q == capture.Resistance:
		rail.after = []contact{c}
	}
}

// later keeps ohms that were judged behind the cold stages, the output off again:
// the set leaves with these, and not with what an earlier contact showed.
func (w *walker) later(rail *railWalk, v capture.Verdict) {
	if c := w.contact(rail, capture.Resistance, v); c.judged {
		rail.after = []contact{c}
	}
}

// unproven reports whether a resistance was read that may not be judged: it has
// no probability then, whatever the meter.
func unproven(v capture.Verdict) bool {
	return v.Unit == capture.Ohm.ASCII() && v.Outcome == capture.ConditionalFail && v.Probability == 0
}

// unjudged keeps the newest resistance that was read and could not be judged, until
// one that can comes: "not measured" would be untrue.
func (w *walker) unjudged(rail *railWalk, v capture.Verdict) {
	i := slices.IndexFunc(rail.before, func(o contact) bool { return o.result.Quantity == capture.Resistance })
	switch c := w.contact(rail, capture.Resistance, v); {
	case i < 0:
		rail.before = append(rail.before, c)
	case !rail.before[i].judged:
		rail.before[i] = c
	case len(rail.after) == 1 && !rail.after[0].judged:
		rail.after[0] = c
	}
}

func (w *walker) contact(rail *railWalk, q capture.Quantity, v capture.Verdict) contact {
	p, since, _ := w.engine.places.Now(v.Channel)
	return contact{since, capture.Result{
		Rail: rail.rail.Name, Stage: w.stage, Quantity: q, Value: v.Value, Resolution: v.Resolution, Uncertainty: v.Uncertainty,
		Channel: v.Channel, Point: cmp.Or(p.Point, rail.rail.Point), Return: cmp.Or(p.Return, rail.rail.Return),
		At: v.To, Span: v.To.Sub(v.From), N: v.N, Outcome: v.Outcome, Say: v.Say,
	}, v.Outcome != capture.NoData && !unproven(v)}
}
