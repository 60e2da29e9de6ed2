package diagnose

import (
	"fmt"
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
	fitted  []string // parts that were replaced, and are on the board with it
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
		if e.act.Verb == capture.ActAnew || s.replaced(e.act, t.events[:i]) {
			events, s.since = t.events[i+1:], e.at
			s.stood(t.events[:i+1])
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
		if e.act.Verb == capture.ActPart {
			s.off, s.fitted = s.off.putBack(part), append(s.fitted, part)
			continue
		}
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

// waste notes what does not count: because of what, which is the same for all that
// do not count for the same reason, and the whole of it.
func (s *story) waste(at capture.Instant, because, format string, args ...any) {
	s.unused = append(s.unused, capture.UnusedReading{At: at, Because: because, Say: fmt.Sprintf(format, args...)})
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
	s.waste(0, "it names no rail of the sheet", "the set says %q: it names no rail of the sheet", indication)
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
		s.waste(at, "the part was off already", "%s was lifted, and was off already", part)
		return
	}
	s.lines = append(s.lines, &lift{at: at, part: part, before: s.standing(part)})
	s.off = s.off.remove(part)
	if !known {
		s.waste(at, "it is no part of the sheet that comes off", "%s is no part of the sheet that comes off: the ledger has it, the ranking does not", part)
		return
	}
	s.put(at, Entry{Verb: Remove, Part: part, Text: "lift " + part}, nil)
}

func (s *story) putBack(at capture.Instant, part string, known bool) {
	if !s.off.without(part) {
		if !slices.Contains(s.fitted, part) {
			s.waste(at, "the part was not off", "%s was put back, and was not off", part)
		}
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
			s.waste(e.at, "the line was not understood", "%s: %v", e.act.Text, err)
			return
		}
		s.walkPoint(w.rail, walkedPoint{name: w.name, volts: w.volts, n: 1, resolution: w.resolution})
		return
	}
	p := &parser{board: s.board, line: 1, off: s.off, free: !s.ranked}
	entry, ok := p.entry(e.act.Text)
	if !ok {
		s.waste(e.at, "the line was not understood", "%s: %s", e.act.Text, p.bad[0].Why)
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
