package capture

import (
	"errors"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// ErrNotRails is wrapped by every refusal to read a line of rails.
var ErrNotRails = errors.New("not a line of rails")

// railsError says which part of the line is wrong and what would be right.
type railsError struct {
	part int // from 1; 0: the whole line
	text string
	why  string
}

func (e *railsError) Error() string {
	if e.part == 0 {
		return "rails: " + e.why
	}
	return fmt.Sprintf("rails, part %d %s: %s", e.part, quoteShort(e.text), e.why)
}
func (e *railsError) Unwrap() error { return ErrNotRails }

// railsExample stands in refusals, so that nobody must look it up.
const railsExample = "write such as +5 2% logic, -12 5% audio"

// Limits of a line: nobody types more, and a file that does is not one.
const (
	mostRails     = 64
	longestName   = 64
	highestVolts  = 1e6
	defaultReturn = "0 V"
)

// ParseRails is [ParseRailsMark] with the decimal point.
func ParseRails(line string) ([]Rail, error) { return ParseRailsMark(line, Point) }

// ParseRailsMark reads the one-line form of a board's rails:
//
//	+5 2% logic, +12 5% audio, -12 5% audio, 3.3 3% DSP
//
// A part is the nominal voltage, how far it may be off, and words that go into
// the name: "+5 V logic". The allowance is a percentage of the nominal (2%), a
// voltage (0.1V), declared bounds with their sign (>4.75V, <5.25V, or both), or
// "?" when nobody knows it. Options: target=5.05V, short<1ohm, reset<4.65V,
// load>0.1A, at=TP5, side=mains. Volts need no unit except as an allowance.
//
// Commas or semicolons part the rails. With [Comma] a comma between two digits
// is the decimal mark; with [Point] it is so only on a line that has a
// semicolon. Bounds are the exact decimal edges, 4.9 and not 4.8999999. The
// target is the nominal, ShortBelow is [DefaultShortBelow] and Return "0 V"
// unless said otherwise. Names have a plain hyphen and are unique, case aside.
// Errors wrap [ErrNotRails].
func ParseRailsMark(line string, mark DecimalMark) ([]Rail, error) {
	if !utf8.ValidString(line) || strings.ContainsFunc(line, func(r rune) bool { return unicode.IsControl(r) && !unicode.IsSpace(r) }) {
		return nil, &railsError{why: "there are characters in it that are no text"}
	}
	parts := splitRails(typedForms.Replace(line), mark)
	if len(parts) == 0 {
		return nil, &railsError{why: "there is none on the line; " + railsExample}
	}
	if len(parts) > mostRails {
		return nil, &railsError{why: fmt.Sprintf("%d of them; a job takes at most %d", len(parts), mostRails)}
	}
	rails := make([]Rail, 0, len(parts))
	for i, text := range parts {
		r, err := parseRail(text, mark)
		if err == nil {
			err = checkNew(rails, r)
		}
		if err != nil {
			return nil, &railsError{i + 1, strings.TrimSpace(text), err.Error()}
		}
		rails = append(rails, r)
	}
	return rails, nil
}

func checkNew(rails []Rail, r Rail) error {
	for _, other := range rails {
		if strings.EqualFold(other.Name, r.Name) {
			return fmt.Errorf("%s is there twice; tell them apart by a word, as in +5 2%% logic", r.Name)
		}
	}
	return nil
}

// splitRails cuts the line at what parts rails. One separator may trail.
func splitRails(line string, mark DecimalMark) []string {
	decimalCommas := mark == Comma || strings.Contains(line, ";")
	var parts []string
	from := 0
	for i := 0; i < len(line); i++ {
		switch {
		case line[i] == ';':
		case line[i] != ',':
			continue
		case decimalCommas && i > 0 && i+1 < len(line) && isDigit(line[i-1]) && isDigit(line[i+1]):
			continue
		}
		parts = append(parts, line[from:i])
		from = i + 1
	}
	if strings.TrimSpace(line[from:]) != "" {
		parts = append(parts, line[from:])
	}
	return parts
}
