package diagnose

import (
	"math"
	"slices"
	"strings"

	"steadyrail/capture"
)

// stay files what a probe came to, unless it counts for nothing.
func (s *story) stay(t *Trail, e event) {
	st := e.stay
	if p, ok := t.places.At(st.channel, st.from); ok {
		st.where = p // it may have been corrected since
	}
	switch {
	case st.inject:
		s.walkStay(e)
	case st.quantity == capture.Resistance && !st.reversed:
		s.ohms(e)
	case st.quantity == capture.DCVoltage:
		s.volts(e)
	case st.where.Rail != "" && !st.live && (st.quantity == capture.DiodeDrop || st.quantity == capture.ACVoltage):
		s.waste(e.at, "it was neither volts nor ohms", "%s read %s on %s: neither volts nor ohms; turn the dial", st.channel, st.quantity.Words(), st.where.Rail)
	}
}

func (s *story) ohms(e event) {
	st := e.stay
	rail, place := st.where.Rail, st.where.Rail
	if rail == "" {
		place = st.where.Point
	}
	switch {
	case place == "": // it was on nothing, as a correction says
	case !st.settled && !st.open:
		if st.seen >= steadyLeast {
			s.unsteady(e, place)
		}
	case st.live:
		if rail != "" {
			s.waste(e.at, "the stage was one under power", "%s: ohms in a stage under power are not counted", place)
		}
	case !st.open && st.value < -max(0.5, float64(3*st.like.Resolution)):
		s.waste(e.at, "less than nothing was read: voltage on it, or too large a null", "%s reads %s: there is voltage on it, discharge it first; or more was nulled than the leads have", place, capture.Ohm.Text(st.value, st.like.Resolution))
	case rail != "" && math.Abs(st.charged) >= 0.05:
		s.waste(e.at, "a charge stood on it", "%s: %s stood on it before, discharge it first", place, capture.Volt.Text(st.charged, 0.001))
	case rail == "":
		s.bare(e)
	default:
		s.railOhms(e)
	}
}

// unsteady says that ohms were not held long enough; of a place that was tried
// again, once.
func (s *story) unsteady(e event, place string) {
	const never = ": the ohms were never steady: "
	s.unused = slices.DeleteFunc(s.unused, func(u capture.UnusedReading) bool { return strings.HasPrefix(u.Say, place+never) })
	s.waste(e.at, "the ohms were never steady", "%s%s%s", place, never, e.stay.charge.say())
}

// bare takes ohms on a part that is off the board: the point is named like it,
// "C104" or "PS2 output pin".
func (s *story) bare(e event) {
	first, _, _ := strings.Cut(e.stay.where.Point, " ")
	part, ok := s.named(first)
	if !ok || !s.off.without(part) {
		return
	}
	ohm := e.stay.ohm()
	s.alone(part, ohm)
	if _, is := s.board.removable(part); is && s.ranked && !slices.Contains(s.board.Connectors(), part) {
		s.put(e.at, Entry{At: Point{Where: Alone, Subject: part}, Value: ohm, Text: "alone " + part + " " + e.stay.text()}, e.stay)
	}
}

// ohm is the resistance that a stay came to: infinite when open, and not below
// what can be told from nothing.
func (s *stay) ohm() float64 {
	if s.open {
		return math.Inf(1)
	}
	return max(s.value, 0.001)
}

func (s *stay) text() string {
	if s.open {
		return "open"
	}
	return capture.Ohm.Text(s.ohm(), max(s.like.Resolution, 1e-4))
}

func (s *story) railOhms(e event) {
	st := e.stay
	s.afterLifts(st)
	s.lastOhm[st.where.Rail] = st
	if !s.ranked {
		return
	}
	if _, known := s.board.Rail(st.where.Rail); !known {
		s.waste(e.at, "it is no rail of the sheet", "%s is no rail of the sheet", st.where.Rail)
		return
	}
	s.file(e.at, Entry{At: Point{Where: Ohms, Subject: st.where.Rail}, Value: st.ohm(), Text: st.where.Rail + " " + st.text()}, st)
}

func (s *story) volts(e event) {
	st := e.stay
	r, known := s.board.Rail(st.where.Rail)
	switch {
	case st.where.Rail == "" || !st.live || !s.ranked:
		return
	case !known:
		s.waste(e.at, "it is no rail of the sheet", "%s is no rail of the sheet", st.where.Rail)
		return
	}
	entry := Entry{At: Point{Where: Volts, Subject: r.Name, Hot: st.hot}}
	switch {
	case st.falls >= restarts && st.first > math.Abs(r.Nominal)/4:
		entry.Word, entry.Text = Restarting, r.Name+" restarting"
	case st.settled:
		entry.Value, entry.Text = st.value, r.Name+" "+capture.Volt.Text(st.value, max(st.like.Resolution, 1e-4))
	default:
		if st.seen >= steadyLeast {
			s.waste(e.at, "the volts were never steady", "%s: the volts were never steady", r.Name)
		}
		return
	}
	if st.hot {
		entry.Text += " hot"
	}
	s.file(e.at, entry, st)
}

// file puts a measurement into the log, unless it only says again what the same
// measurement said before: a reading that is made twice is no second witness.
// One that says something else stays beside the first, for the two contradict
// each other.
func (s *story) file(at capture.Instant, e Entry, st *stay) {
	var off stand
	key := s.board.key(e.At, s.off, s.board.touched)
	for i, old := range s.log {
		off = off.after(old)
		if old.Verb == "" && s.board.key(old.At, off, s.board.touched) == key && s.agree(old, e) {
			s.log[i].Value, s.log[i].Text, s.stays[i] = e.Value, e.Text, st
			return
		}
	}
	s.put(at, e, st)
}

// agree reports whether two entries of the same measurement say the same:
// resistances within a fifth and a tenth of an ohm, volts within the same zone.
func (s *story) agree(a, b Entry) bool {
	if a.At.Where != Ohms {
		wa, wb := s.board.weigh(a), s.board.weigh(b)
		var both float64
		for i := range wa {
			both += min(wa[i], wb[i])
		}
		return both > 0.5
	}
	if math.IsInf(a.Value, 1) || math.IsInf(b.Value, 1) {
		return a.Value == b.Value
	}
	return math.Abs(a.Value-b.Value) <= 0.1+float64(0.2*min(a.Value, b.Value))
}
