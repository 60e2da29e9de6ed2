package rules

import (
	"slices"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// loads are the stages whose newest minute of a rail is kept: what it came to
// under load, else what it was found to have.
var loads = []capture.Stage{capture.Soak, capture.WarmUp, capture.LiveChecks}

// final returns the tail that the rail's final figure is taken from.
func (r *railWalk) final(stages int) (*tail, capture.Stage, bool) {
	for i := range loads[:stages] {
		if len(r.load[i].v) > 0 {
			return &r.load[i], loads[i], true
		}
	}
	return nil, "", false
}

// judged returns the final figures with their budgets.
func (w *walker) judged() (out []capture.Judged) {
	for _, r := range w.rails {
		t, stage, any := r.final(len(loads))
		if !any {
			continue
		}
		if stage != capture.LiveChecks {
			t.after(w.b.lastFall(r.rail.Name))
		}
		j := w.figure(r.rail, t).Judge()
		j.Stage, j.At = stage, t.at[len(t.at)-1]
		in, _ := w.b.out.Roster.Instrument(j.Channel.Instrument())
		j.Overdue = kind.Overdue(in.CalibrationDue, j.At)
		out = append(out, j)
	}
	return out
}

func (w *walker) figure(rail capture.Rail, t *tail) kind.Figure {
	info, _ := w.b.out.Roster.Channel(t.span.Channel)
	return kind.Figure{Channel: info, Rail: rail, Readings: t.v, Room: t.room.Now(t.at[len(t.at)-1])}
}

func (w *walker) underLoad(at capture.Instant, r capture.Reading) {
	i := slices.Index(loads, w.stage)
	if i < 0 || r.Quantity != capture.DCVoltage || !r.Good() {
		return
	}
	p, placed := w.b.places.At(r.Channel, at)
	info, _ := w.b.out.Roster.Channel(r.Channel)
	if rail := w.rail(p.Rail); placed && rail != nil && !info.Setpoint {
		rail.load[i].add(at, r, p)
		rail.load[i].room = w.engine.room
	}
}
