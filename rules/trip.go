package rules

import (
	"slices"

	"steadyrail/capture"
)

// Trip says that an alarm has come whose rule switches an output off. The engine
// only says so; what is done about it comes back as records. A mute mutes the
// telling, not the trip, and so does an alarm that is told as part of another.
type Trip struct {
	At     capture.Instant // of the record that raised the alarm
	Alarm  string
	Rail   string
	Output string // "supply/1"
	Armed  bool   // the protection of the output was programmed and read back in this job: otherwise nothing is done
}

// trip says that a rule's alarm, which has just come, switches an output off. An
// alarm that was there already does not do so again, a restart included; nor
// does any while nothing confirmed that the last trip of the output worked: then
// a person is called, and more of the same would only fill the record.
func (e *Engine) trip(w *watcher, at capture.Instant) {
	out := w.rule.Trip
	if out == "" || slices.Contains(e.hopeless, out) {
		return
	}
	e.out.Trips = append(e.out.Trips, Trip{At: at, Alarm: w.alarm(), Rail: w.rail.Name, Output: out, Armed: e.guard.Of(out).Programmed()})
}

// gaveUp remembers outputs that a trip could not switch off, until something is
// known of them again.
func (e *Engine) gaveUp(act capture.Act) {
	switch {
	case act.Text == capture.NotConfirmed && act.By == capture.ByTrip:
		e.hopeless = append(e.hopeless, act.Subject)
	case act.Text == "on" || act.Text == "off":
		e.hopeless = slices.DeleteFunc(e.hopeless, act.Concerns)
	}
}

// coldChecks are the rails that were found not to be short, and which way round
// each channel measures.
type coldChecks struct {
	passed []coldPass
	ways   capture.Polarities
}

// noteCold remembers which rails were found not to be short, and by which reading: the probe that
// found it is lifted before anything is switched on, and its verdict with it. A
// rail that is found short loses its pass; a contact that cannot tell, such as
// one on a rail that was not proven dead, says nothing new. With the leads
// exchanged a short is one as well, but none is no pass: the check is that of the
// forward way, and what conducts that way alone is not seen backwards.
func (e *Engine) noteCold(v capture.Verdict) {
	if v.Kind != "short" || v.Outcome != capture.Pass && v.Outcome != capture.Fail {
		return
	}
	if v.Outcome == capture.Pass && e.cold.ways.Reversed(v.Channel) {
		return
	}
	e.cold.passed = slices.DeleteFunc(e.cold.passed, func(p coldPass) bool { return p.rail == v.Rail })
	if v.Outcome == capture.Pass {
		e.cold.passed = append(e.cold.passed, coldPass{v.Rail, v.To})
	}
	e.out.Cold = true
}

// Written puts rules that were written among those that follow from the rails. A
// written rule with the name of an implied one of the same kind and rail stands
// in its place, so that it can have a limit of its own, or a trip. For each rail
// and output that a rule trips, a rule of kind trip watches over the second line.
func Written(implied, written []capture.Rule) []capture.Rule {
	var out []capture.Rule
	written = slices.Clone(written)
	for _, r := range implied {
		i := slices.IndexFunc(written, func(w capture.Rule) bool { return w.Name == r.Name && w.Kind == r.Kind && w.Rail == r.Rail })
		if i < 0 {
			out = append(out, r)
		} else if written[i].Deadband == 0 {
			written[i].Deadband = r.Deadband // only the rail tells it
		}
	}
	out = append(out, written...)
	for _, r := range written {
		watch := capture.Rule{Name: "trip " + r.Rail + " through " + r.Trip, Kind: "trip", Rail: r.Rail, Severity: capture.Urgent, Against: r.Trip, Implied: true}
		if r.Trip != "" && !slices.ContainsFunc(out, func(o capture.Rule) bool { return o.Name == watch.Name }) {
			out = append(out, watch)
		}
	}
	return out
}
