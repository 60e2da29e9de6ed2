package diagnose

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"steadyrail/capture"
)

// LineError is what is wrong with one line of a log. It wraps [ErrEntry].
type LineError struct {
	Line int // from 1
	Why  string
}

func (e *LineError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.Why) }

// Unwrap returns [ErrEntry].
func (e *LineError) Unwrap() error { return ErrEntry }

// acrossBelow is the resistance under which a winding is whole, in ohm (common
// practice for inductors of converters).
const acrossBelow = 10.0

// ParseLog reads entries, one a line; what follows # and empty lines count for
// nothing. Each problem is told; the entries are nil when there is one.
func ParseLog(b Board, text string) ([]Entry, []*LineError) {
	p := &parser{board: b}
	for i, line := range strings.Split(text, "\n") {
		p.line = i + 1
		line, _, _ = strings.Cut(line, "#")
		if line = strings.Join(strings.Fields(line), " "); line == "" {
			continue
		}
		if !utf8.ValidString(line) {
			p.refuse("it is not text in UTF-8")
			continue
		}
		if e, ok := p.entry(line); ok {
			e.Text = line
			p.off = p.off.after(e)
			p.log = append(p.log, e)
		}
	}
	if len(p.bad) > 0 {
		return nil, p.bad
	}
	return p.log, nil
}

type parser struct {
	board Board
	line  int
	off   stand
	log   []Entry
	bad   []*LineError
	free  bool // there is no sheet: any name is a part that comes off
}

func (p *parser) refuse(format string, args ...any) (Entry, bool) {
	p.bad = append(p.bad, &LineError{p.line, fmt.Sprintf(format, args...)})
	return Entry{}, false
}

func (p *parser) entry(line string) (Entry, bool) {
	for _, f := range forms {
		if rest, is := strings.CutPrefix(line, f.begin); is {
			return f.read(p, rest)
		}
		if line+" " == f.begin {
			return p.refuse("%s what? Write such as %q", line, f.example)
		}
	}
	rail, rest, ok := longest(railNames(p.board), line)
	if !ok {
		return p.refuse("%q names no rail of the board; %s", line, howTo())
	}
	return p.reading(rail, rest)
}

func railNames(b Board) []string {
	var out []string
	for _, r := range b.Rails {
		out = append(out, r.Name)
	}
	return out
}

// longest finds the longest name that the text begins with.
func longest(names []string, text string) (name, rest string, ok bool) {
	for _, n := range names {
		if len(text) >= len(n) && strings.EqualFold(text[:len(n)], n) && len(n) > len(name) {
			if after := text[len(n):]; after == "" || after[0] == ' ' {
				name, rest, ok = n, strings.TrimSpace(after), true
			}
		}
	}
	return name, rest, ok
}

func (p *parser) remove(part string) (Entry, bool) {
	if p.free && !p.off.without(part) {
		return Entry{Verb: Remove, Part: part}, true
	}
	if p.free {
		return p.refuse("%s is off already", part)
	}
	at := slices.IndexFunc(p.board.removables(), func(n string) bool { return strings.EqualFold(n, part) })
	if at < 0 {
		return p.refuse("%q is no part that comes off; %s", part, boardHas(p.board.removables(), part))
	}
	part = p.board.removables()[at]
	if p.off.without(part) {
		return p.refuse("%s is off already", part)
	}
	return Entry{Verb: Remove, Part: part}, true
}

func (p *parser) putBack(part string) (Entry, bool) {
	at := slices.IndexFunc(p.off, func(n string) bool { return strings.EqualFold(n, part) })
	if at < 0 {
		return p.refuse("%q is not off the board", part)
	}
	return Entry{Verb: PutBack, Part: p.off[at]}, true
}

func (p *parser) alone(rest string) (Entry, bool) {
	part, value, ok := longest(p.off, rest)
	if !ok || slices.Contains(p.board.Connectors(), part) {
		return p.refuse("%q names no part that was lifted: lift it first, then read it by itself", rest)
	}
	e, ok := p.value(value)
	if !ok || e.At.Where != Ohms {
		return p.refuse("%q is no resistance; write such as alone C104 0.3 ohm", value)
	}
	e.At = Point{Where: Alone, Subject: part}
	return e, true
}

// subjects lists what a test can be about.
func (b Board) subjects(w Where) []string {
	var out []string
	switch w {
	case SourceAlone:
		return railNames(b)
	case Behind:
		return b.Connectors()
	case LoadAlone:
		for _, l := range b.Loads {
			out = append(out, l.Name)
		}
	}
	for _, c := range b.Converters {
		if w == Enabled && c.Enable != "" || w == Across && c.Inductor != "" {
			out = append(out, c.Name)
		}
	}
	return out
}

func answer(w Where) func(*parser, string) (Entry, bool) {
	return func(p *parser, rest string) (Entry, bool) {
		subject, word, ok := longest(p.board.subjects(w), rest)
		if !ok {
			return p.refuse("%q names nothing that this can be asked of: %s", rest, strings.Join(p.board.subjects(w), ", "))
		}
		if !slices.Contains(outcomes(w), Outcome(word)) {
			return p.refuse("%q is no answer; write %q or %q", word, outcomes(w)[0], outcomes(w)[1])
		}
		return Entry{At: Point{Where: w, Subject: subject}, Word: Outcome(word)}, true
	}
}

func (p *parser) across(rest string) (Entry, bool) {
	subject, value, ok := longest(p.board.subjects(Across), rest)
	if !ok {
		return p.refuse("%q names no converter with an inductor: %s", rest, strings.Join(p.board.subjects(Across), ", "))
	}
	e, ok := p.value(value)
	if !ok || e.At.Where != Ohms {
		return p.refuse("%q is no resistance; write such as across PS2 0.1 ohm", value)
	}
	word := There
	if e.Value > acrossBelow {
		word = Missing
	}
	return Entry{At: Point{Where: Across, Subject: subject}, Word: word}, true
}

func (p *parser) says(rest string) (Entry, bool) {
	rail, after, ok := longest(railNames(p.board), rest)
	if !ok || after != "" {
		return p.refuse("%q is no rail of the board", rest)
	}
	return Entry{At: Point{Where: Says, Subject: rail}}, true
}

func (p *parser) reading(rail, rest string) (Entry, bool) {
	rest, hot := strings.CutSuffix(rest, " hot")
	e := Entry{At: Point{Where: Volts}, Word: Restarting}
	if rest != string(Restarting) {
		var ok bool
		if e, ok = p.value(rest); !ok {
			return p.refuse("%q is no reading; %s", rest, howTo())
		}
	}
	if hot && e.At.Where != Volts {
		return p.refuse("hot goes with volts: ohms are read unpowered")
	}
	e.At.Subject, e.At.Hot = rail, hot
	return e, true
}

// value reads "0.8 ohm", "open" or "4.98 V", with "± 0.02 V" behind it when the
// standard uncertainty is known.
func (p *parser) value(text string) (Entry, bool) {
	if text == "open" {
		return Entry{At: Point{Where: Ohms}, Value: math.Inf(1)}, true
	}
	text, doubt, stated := strings.Cut(strings.ReplaceAll(text, "+-", "±"), "±")
	unit, where := capture.Volt, Volts
	switch low := strings.ToLower(strings.TrimSpace(text)); {
	case strings.HasSuffix(low, "ohm") || strings.HasSuffix(low, "ω"):
		unit, where = capture.Ohm, Ohms
	case !strings.HasSuffix(low, "v"):
		return Entry{}, false
	}
	e := Entry{At: Point{Where: where}}
	var err error
	if e.Value, _, err = unit.ParseTyped(text, capture.Point); err != nil || where == Ohms && e.Value < 0 {
		return Entry{}, false
	}
	if stated {
		if e.U, _, err = unit.ParseTyped(doubt, capture.Point); err != nil || e.U <= 0 {
			return Entry{}, false
		}
	}
	return e, true
}
