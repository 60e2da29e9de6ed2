package rules

import (
	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// roomBy takes the temperature of the room from a channel that was placed in it.
func (e *Engine) roomBy(at capture.Instant, ch *channel, r *capture.Reading) {
	if ch.place.Point != capture.PointAmbient || ch.place.Rail != "" || r.Quantity != capture.Temperature || !r.Good() {
		return
	}
	e.roomIs(kind.Room{Celsius: r.Value, At: at, Typed: r.Flags.Has(capture.Typed | capture.ByEye)})
}

// roomLeft forgets the room when the channel that told it is moved away.
func (e *Engine) roomLeft(from, to capture.Placement) {
	if from.Point == capture.PointAmbient && from.Rail == "" && moved(from, to) && !e.room.Typed {
		e.roomIs(kind.Room{})
	}
}

func (e *Engine) roomIs(r kind.Room) {
	e.room = r
	for _, w := range e.watchers {
		w.judge.Room(r)
	}
}

// due is when the calibration of the channel's instrument is due; of a formula,
// of that of its inputs which is due first.
func (e *Engine) due(ch *channel) string {
	d := e.formulaOf(ch.info.ID)
	if d == nil {
		in, _ := e.roster.Instrument(ch.info.ID.Instrument())
		return in.CalibrationDue
	}
	first := ""
	for _, in := range d.inputs {
		from, _ := e.roster.Instrument(in.id.Instrument())
		if day := from.CalibrationDue; first == "" || day != "" && day < first { // 2027-03-01: as text as in time
			first = day
		}
	}
	return first
}
