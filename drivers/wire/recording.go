package wire

import (
	"bufio"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
)

// ErrRecording is wrapped by everything that is wrong with a recording: its
// text, or an exchange that it does not hold.
var ErrRecording = errors.New("recording")

// recordingHeader is the first line of every recording. What follows is one
// event a line, comments behind "#", and empty lines:
//
//	steadyrail wire recording 1
//	# link tcp:127.0.0.1:5025
//	0.000000 ~
//	0.041210 > *IDN?
//	0.052337 < Simulated,Multimeter,00123457,1.0
//	0.061002 > READ?
//	1.561007 ! timed out
//
// First stands the time in seconds since the recording began, then a mark:
// ">" was sent, "<" was received, "~" the line was drained, "!" instead of an
// answer came an error, which is named. "]" and "[" are bytes that were sent and
// received, in hexadecimal: an exchange of bytes is "]", empty when only
// listened, followed by "[" or "!". After the mark and one space stands
// the line as it was, printable ASCII, to the end of the row. A query is a ">"
// that is followed by "<" or "!"; any other ">" was sent without answer.
const recordingHeader = "steadyrail wire recording 1"

// longestRow bounds a row of a recording: the longest line there can be, and
// its time.
const longestRow = 1<<20 + 64

type mark byte

const (
	sent     mark = '>'
	received mark = '<'
	failed   mark = '!'
	drained  mark = '~'
	bytesOut mark = ']'
	bytesIn  mark = '['
)

// event is one row of a recording.
type event struct {
	at   time.Duration
	mark mark
	text string
	row  int // in the file, from 1
}

func (e event) String() string {
	if e.text == "" {
		return fmt.Sprintf("%.6f %c", e.at.Seconds(), e.mark)
	}
	return fmt.Sprintf("%.6f %c %s", e.at.Seconds(), e.mark, e.text)
}

// faults are the errors that a recording can hold.
var faults = []error{ErrTimeout, ErrGarbled, ErrInDoubt, ErrGone, ErrStuck, ErrClosed}

func faultNamed(name string) error {
	for _, f := range faults {
		if f.Error() == name {
			return f
		}
	}
	return nil
}

// parseRecording reads a whole recording. Errors wrap [ErrRecording] and name
// the row.
func parseRecording(r io.Reader) ([]event, error) {
	rows := bufio.NewScanner(r)
	rows.Buffer(nil, longestRow)
	var out []event
	n := 0
	for rows.Scan() {
		n++
		row := rows.Text()
		switch {
		case n == 1 && row != recordingHeader:
			return nil, fmt.Errorf("%w: row 1: want %q, got %q", ErrRecording, recordingHeader, cut([]byte(row)))
		case n == 1, row == "", row[0] == '#':
			continue
		}
		e, err := parseRow(row)
		if err == nil {
			err = follows(out, e)
		}
		if err != nil {
			return nil, fmt.Errorf("%w: row %d: %w", ErrRecording, n, err)
		}
		e.row = n
		out = append(out, e)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("%w: row %d: %w", ErrRecording, n+1, err)
	}
	if n == 0 {
		return nil, fmt.Errorf("%w: empty file: want %q in the first row", ErrRecording, recordingHeader)
	}
	return out, nil
}

func parseRow(row string) (event, error) {
	at, rest, _ := strings.Cut(row, " ")
	micros, err := parseSeconds(at)
	if err != nil {
		return event{}, fmt.Errorf("%q is no time in seconds with six decimals", at)
	}
	if rest == "" {
		return event{}, errors.New("there is no mark behind the time")
	}
	e := event{at: micros, mark: mark(rest[0])}
	text, spaced := strings.CutPrefix(rest[1:], " ")
	if !spaced && text != "" {
		return event{}, fmt.Errorf("want a space behind the mark %q", rest[0])
	}
	e.text = text
	for i := range len(text) {
		if (text[i] < ' ' && text[i] != '\t') || text[i] > '~' {
			return event{}, fmt.Errorf("byte %#x is not printable", text[i])
		}
	}
	return e, e.check()
}

// parseSeconds reads digits, a point and six decimals, exactly.
func parseSeconds(s string) (time.Duration, error) {
	whole, part, ok := strings.Cut(s, ".")
	if !ok || len(part) != 6 || whole == "" || len(whole) > 9 {
		return 0, strconv.ErrSyntax
	}
	n, err := strconv.ParseUint(whole+part, 10, 63)
	return time.Duration(n) * time.Microsecond, err
}

func (e event) check() error {
	switch e.mark {
	case sent, received:
		return nil
	case bytesOut, bytesIn:
		_, err := e.bytes()
		return err
	case drained:
		if e.text == "" {
			return nil
		}
		return errors.New("nothing may stand behind ~")
	case failed:
		if faultNamed(e.text) != nil {
			return nil
		}
		return fmt.Errorf("%q is not the name of an error", e.text)
	}
	return fmt.Errorf("a line begins with one of > < ] [ ~ ! and not with %q", byte(e.mark))
}

// follows checks that an answer has a question in front of it.
func follows(before []event, e event) error {
	last := mark(0)
	if len(before) > 0 {
		last = before[len(before)-1].mark
	}
	switch {
	case last == bytesOut && e.mark != bytesIn && e.mark != failed:
		return errors.New("what was exchanged must be followed by an answer or an error")
	case e.mark == received && last != sent, e.mark == bytesIn && last != bytesOut,
		e.mark == failed && last != sent && last != bytesOut:
		return errors.New("an answer or an error must follow what was sent")
	}
	return nil
}

// bytes reads the hexadecimal text of an event, spaced or not.
func (e event) bytes() ([]byte, error) {
	b, err := hex.DecodeString(strings.ReplaceAll(e.text, " ", ""))
	if err != nil {
		return nil, fmt.Errorf("%q is not hexadecimal: %w", e.text, err)
	}
	return b, nil
}
