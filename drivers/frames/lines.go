package frames

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"regexp"
	"strings"

	"steadyrail/capture"
)

// Lines describe a meter that sends lines of text, each with a figure. A line
// ends with a carriage return, a line feed, or both; empty lines are nothing.
//
// A line that lost characters in its middle can still fit a loose pattern.
// Write the pattern with fixed counts ("[0-9.]{6}", not "[0-9.]+"), and such a
// line does not fit.
type Lines struct {
	// Pattern is a regular expression (RE2 syntax) for the whole line. Its named
	// groups: value (needed), sign, unit, and any number whose names begin with
	// flags. Spaces around what a group holds do not count.
	Pattern string
	// Units say what the text of the unit group means. Without the group there
	// is one, with an empty text.
	Units []Unit
	// Words say what the texts of the flags groups mean, and what may stand in
	// the value group instead of a figure. Text in a flags group that is not
	// here makes the line malformed: it may mean that the display is on hold.
	Words []Word
	// Mark is the decimal mark of the value; the zero value is the point.
	Mark capture.DecimalMark
}

// Unit is the text of a unit and its meaning.
type Unit struct {
	Text     string
	Quantity capture.Quantity
	Unit     string // as people write it: "mV", "kohm"; empty: the base unit
}

// longest is the longest line that can be one; more is taken for noise, and the
// link says so.
const longest = 256

// lineReader is Lines, compiled.
type lineReader struct {
	pattern *regexp.Regexp
	value   int // index of each group; -1: there is none
	sign    int
	unit    int
	flags   []int
	units   map[string]meant
	words   []Word // longest text first
	mark    capture.DecimalMark
}

type meant struct {
	quantity capture.Quantity
	power    int
}

func (l Lines) compile() (*lineReader, error) {
	re, err := regexp.Compile("^(?:" + l.Pattern + ")$")
	if err != nil {
		return nil, fmt.Errorf("pattern: %w", err)
	}
	r := &lineReader{pattern: re, value: -1, sign: -1, unit: -1, units: map[string]meant{}, mark: l.Mark}
	for i, name := range re.SubexpNames() {
		switch {
		case name == "value":
			r.value = i
		case name == "sign":
			r.sign = i
		case name == "unit":
			r.unit = i
		case strings.HasPrefix(name, "flags"):
			r.flags = append(r.flags, i)
		case name != "":
			return nil, fmt.Errorf("pattern: group %q is not known: use value, sign, unit, flags", name)
		}
	}
	if r.value < 0 {
		return nil, errors.New("pattern: it has no group named value: write (?P<value>...)")
	}
	return r, errors.Join(r.addUnits(l.Units), r.addWords(l.Words))
}

func (r *lineReader) addUnits(list []Unit) error {
	if r.unit < 0 && (len(list) != 1 || list[0].Text != "") {
		return errors.New("units: the pattern has no group named unit: want one unit with an empty text")
	}
	if len(list) == 0 {
		return errors.New("units: there is none")
	}
	for _, u := range list {
		if _, twice := r.units[u.Text]; twice {
			return fmt.Errorf("units: %q is there twice", u.Text)
		}
		power, err := powerOf(u.Quantity, u.Unit)
		if err != nil {
			return fmt.Errorf("units: %q: %w", u.Text, err)
		}
		r.units[u.Text] = meant{u.Quantity, power}
	}
	return nil
}

// powerOf returns the power of ten of a unit that people would type.
func powerOf(q capture.Quantity, unit string) (int, error) {
	if q == capture.NoQuantity {
		return 0, errors.New("quantity is missing")
	}
	v, _, err := q.Unit().ParseTyped("1 "+unit, capture.Point)
	if err != nil {
		return 0, err
	}
	return int(math.Round(math.Log10(v))), nil
}

// next takes what stands before a line end. What is too long for a line is left
// for the link to complain about.
func (r *lineReader) next(received []byte) (skip, length int) {
	for skip < len(received) && isEnd(received[skip]) {
		skip++
	}
	i := bytes.IndexFunc(received[skip:], func(c rune) bool { return c == '\r' || c == '\n' })
	if i < 0 {
		return skip, 0
	}
	return skip, i + 1
}

func isEnd(b byte) bool { return b == '\r' || b == '\n' }

// torn: the end of a line is a shorter line, and "012.3 V" may be what is left
// of "-5012.3 V".
func (r *lineReader) torn() bool { return true }

func (r *lineReader) read(frame []byte) (Display, error) {
	line := string(bytes.TrimRight(frame, "\r\n"))
	d, err := r.display(line)
	if errors.Is(err, ErrMalformed) {
		err = fmt.Errorf("%w (line %q)", err, cut(line))
	}
	if err != nil {
		return Display{}, err
	}
	return d, nil
}

func cut(s string) string {
	if len(s) > 80 {
		return s[:80] + "..."
	}
	return s
}

func (r *lineReader) display(line string) (Display, error) {
	if len(line) > longest {
		return Display{}, fmt.Errorf("%w: more than %d characters", ErrMalformed, longest)
	}
	groups := r.pattern.FindStringSubmatch(line)
	if groups == nil {
		return Display{}, fmt.Errorf("%w: it does not fit the pattern", ErrMalformed)
	}
	group := func(i int) string {
		if i < 0 {
			return ""
		}
		return strings.TrimSpace(groups[i])
	}
	unit, ok := r.units[group(r.unit)]
	if !ok {
		return Display{}, fmt.Errorf("%w: unit %q is not in the model", ErrMalformed, group(r.unit))
	}
	var s state
	for _, i := range r.flags {
		if rest := r.say(&s, group(i)); rest != "" {
			return Display{}, fmt.Errorf("%w: flag %q is not in the model", ErrMalformed, rest)
		}
	}
	return r.shown(&s, unit, group(r.sign)+group(r.value))
}

// shown makes the display of a figure or of the words in its place.
func (r *lineReader) shown(s *state, unit meant, value string) (Display, error) {
	sign := ""
	if value != "" && (value[0] == '-' || value[0] == '+') {
		sign, value = value[:1], strings.TrimLeft(value[1:], " ")
	}
	d := Display{}
	figure := value != "" && strings.ContainsRune(".,0123456789", rune(value[0])) && !r.isWord(value)
	if !figure {
		if value == "" || r.say(s, value) != "" || !s.over {
			return Display{}, fmt.Errorf("%w: %q is no figure", ErrMalformed, value)
		}
	}
	var err error
	if d.Quantity, err = s.quantity(unit.quantity); err != nil {
		return Display{}, err
	}
	d.Flags = s.flags
	if s.negative = s.negative || sign == "-"; s.negative {
		sign = "-"
	}
	if s.relative {
		if err := d.relative(); err != nil {
			return Display{}, err
		}
	}
	if s.over {
		d.over(s.negative)
		return d, nil
	}
	return d, d.figure(sign+r.point(value), unit.power)
}

// point turns the meter's decimal mark into a point. A point where the mark is
// a comma is no figure.
func (r *lineReader) point(value string) string {
	if r.mark != capture.Comma {
		return value
	}
	return strings.NewReplacer(",", ".", ".", "?").Replace(value)
}

// Check returns what is wrong with the description.
func (l Lines) Check() error {
	_, err := l.compile()
	return err
}
