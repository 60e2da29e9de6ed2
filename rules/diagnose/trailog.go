package diagnose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"steadyrail/capture"
)

// story is the trail told as a log of a board, with what does not count in it.
type story struct {
	board   Board
	ranked  bool // there is a sheet
	since   capture.Instant
	log     []Entry
	ats     []capture.Instant // of each entry
	stays   []*stay           // behind each entry; nil: none
	off     stand
	unused  []capture.UnusedReading
	lines   []*lift
	walks   []walked
	backs   []capture.Instant
	lastOhm map[string]*stay // newest resistance of each rail
}

// read tells the events from the last new beginning on.
func (t *Trail) read(b *Board) *story {
	s := &story{lastOhm: map[string]*stay{}}
	if b != nil {
		s.board, s.ranked = *b, true
	} else {
		s.board = Board{Rails: t.sheet.Rails}
	}
	events := t.events
	for i, e := range slices.Backward(t.events) {
		if e.act.Verb == capture.ActAnew {
			events, s.since = t.events[i+1:], e.at
			s.stood(t.events[:i])
			break
		}
	}
	s.hear(t.sheet.Indication)
	for _, e := range events {
		if e.stay != nil {
			s.stay(t, e)
			continue
		}
		s.act(e)
	}
	return s
}

// stood takes over what is off the board from before a new beginning. A
// converter that was off had a stand-in by then.
func (s *story) stood(before []event) {
	for _, e := range before {
		part, ok := s.named(e.act.Subject)
		if _, is := s.board.converter(part); !ok || is {
			continue
		}
		verb := map[capture.Verb]Verb{capture.ActLift: Remove, capture.ActPutBack: PutBack}[e.act.Verb]
		s.off = s.off.after(Entry{Verb: verb, Part: part})
	}
	for _, part := range s.off {
		s.put(0, Entry{Verb: Remove, Part: part, Text: "lift " + part}, nil)
	}
}

// named finds the part of the sheet that a person meant. Without a sheet every
// part is one.
func (s *story) named(subject string) (string, bool) {
	if !s.ranked {
		return subject, subject != ""
	}
	all := s.board.removables()
	i := slices.IndexFunc(all, func(n string) bool { return strings.EqualFold(n, subject) })
	if i < 0 {
		return subject, false
	}
	return all[i], true
}

func (s *story) put(at capture.Instant, e Entry, from *stay) {
	s.log, s.ats, s.stays = append(s.log, e), append(s.ats, at), append(s.stays, from)
}

func (s *story) waste(at capture.Instant, format string, args ...any) {
	s.unused = append(s.unused, capture.UnusedReading{At: at, Say: fmt.Sprintf(format, args...)})
}

// hear takes what the set says of itself, when it names a rail of the board by
// a word of the rail's name. It weighs little, and nothing once the rail was
// measured.
func (s *story) hear(indication string) {
	if indication == "" || !s.ranked {
		return
	}
	words := strings.FieldsFunc(strings.ToLower(indication), func(r rune) bool { return !strings.ContainsRune("abcdefghijklmnopqrstuvwxyz0123456789+-.", r) })
	for _, r := range s.board.Rails {
		for _, w := range strings.Fields(strings.ToLower(r.Name)) {
			if len(w) > 2 && slices.Contains(words, w) {
				s.put(0, Entry{At: Point{Where: Says, Subject: r.Name}, Text: "set says " + r.Name}, nil)
				return
			}
		}
	}
	s.waste(0, "the set says %q: it names no rail of the sheet", indication)
}

func (s *story) act(e event) {
	part, ok := s.named(e.act.Subject)
	switch e.act.Verb {
	case capture.ActLift:
		s.lift(e.at, part, ok)
	case capture.ActPutBack:
		s.putBack(e.at, part, ok)
	case capture.ActTried:
		s.tried(e)
	}
}

func (s *story) lift(at capture.Instant, part string, known bool) {
	if s.off.without(part) {
		s.waste(at, "%s was lifted, and was off already", part)
		return
	}
	s.lines = append(s.lines, &lift{at: at, part: part, before: s.standing(part)})
	s.off = s.off.remove(part)
	if !known {
		s.waste(at, "%s is no part of the sheet that comes off: the ledger has it, the ranking does not", part)
		return
	}
	s.put(at, Entry{Verb: Remove, Part: part, Text: "lift " + part}, nil)
}

func (s *story) putBack(at capture.Instant, part string, known bool) {
	if !s.off.without(part) {
		s.waste(at, "%s was put back, and was not off", part)
		return
	}
	s.off = s.off.putBack(part)
	for _, l := range slices.Backward(s.lines) {
		if l.part == part {
			l.back = at
			break
		}
	}
	s.backs = append(s.backs, at)
	if known {
		s.put(at, Entry{Verb: PutBack, Part: part, Text: "put back " + part}, nil)
	}
}

// tried takes a line that a person wrote.
func (s *story) tried(e event) {
	if w, ok, err := parseWalk(s.board, e.act.Text); ok {
		if err != nil {
			s.waste(e.at, "%s: %v", e.act.Text, err)
			return
		}
		s.walkPoint(w.rail, walkedPoint{name: w.name, volts: w.volts, n: 1, resolution: w.resolution})
		return
	}
	p := &parser{board: s.board, line: 1, off: s.off, free: !s.ranked}
	entry, ok := p.entry(e.act.Text)
	if !ok {
		s.waste(e.at, "%s: %s", e.act.Text, p.bad[0].Why)
		return
	}
	entry.Text = e.act.Text
	if entry.At.Where == Alone {
		s.alone(entry.At.Subject, entry.Value)
	}
	if s.ranked {
		s.put(e.at, entry, nil)
	}
}

func (s *story) alone(part string, ohm float64) {
	for _, l := range slices.Backward(s.lines) {
		if l.part == part {
			l.alone = ohm
			return
		}
	}
}

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
		s.waste(e.at, "%s read %s on %s: neither volts nor ohms; turn the dial", st.channel, strings.ReplaceAll(st.quantity.String(), "_", " "), st.where.Rail)
	}
}

func (s *story) ohms(e event) {
	st := e.stay
	rail, place := st.where.Rail, st.where.Rail
	if rail == "" {
		place = st.where.Point
	}
	switch {
	case !st.settled && !st.open:
		if st.seen >= steadyLeast {
			s.waste(e.at, "%s: the ohms were never steady", place)
		}
	case st.live:
		if rail != "" {
			s.waste(e.at, "%s: ohms under power mean nothing", place)
		}
	case !st.open && st.value < -max(0.5, float64(3*st.like.Resolution)):
		s.waste(e.at, "%s reads %s: there is voltage on it, discharge it first", place, capture.Ohm.Text(st.value, st.like.Resolution))
	case rail != "" && math.Abs(st.charged) >= 0.05:
		s.waste(e.at, "%s: %s stood on it before, discharge it first", place, capture.Volt.Text(st.charged, 0.001))
	case rail == "":
		s.bare(e)
	default:
		s.railOhms(e)
	}
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
		s.waste(e.at, "%s is no rail of the sheet", st.where.Rail)
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
		s.waste(e.at, "%s is no rail of the sheet", st.where.Rail)
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
			s.waste(e.at, "%s: the volts were never steady", r.Name)
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
