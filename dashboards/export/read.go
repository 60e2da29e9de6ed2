package export

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"steadyrail/capture"
)

// Line is a line of an export, read back.
type Line struct {
	Number    int // of the line in the file, from 1
	At        capture.Instant
	Reading   capture.Reading
	Placement capture.Placement // where the channel was: rail, point, hold
}

// IsOurs reports whether a file that begins so was written by [WriteCSV], and by
// which decimal sign: its first line is ours, cell by cell.
func IsOurs(beginning string) (capture.DecimalMark, bool) {
	first, _, _ := strings.Cut(strings.TrimPrefix(beginning, "\ufeff"), "\n")
	first = strings.TrimSuffix(first, "\r")
	switch first {
	case strings.Join(Columns(), ","):
		return capture.Point, true
	case strings.Join(Columns(), ";"):
		return capture.Comma, true
	}
	return capture.Point, false
}

// ReadCSV reads what [WriteCSV] wrote, in the dialect of a decimal sign, line by
// line. The readings are the same: where none had a text, the figures that stood
// in its place are it now. An error names the line; one of yield ends it.
func ReadCSV(r io.Reader, mark capture.DecimalMark, yield func(Line) error) error {
	c := csv.NewReader(r)
	c.FieldsPerRecord, c.ReuseRecord = len(Columns()), true
	if mark == capture.Comma {
		c.Comma = ';'
	}
	if _, err := c.Read(); err != nil {
		return fmt.Errorf("read an export: %w", err)
	}
	last := capture.Instant(math.MinInt64)
	for {
		cells, err := c.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("read an export: %w", err)
		}
		number, _ := c.FieldPos(0)
		l, err := parse(cells, mark)
		if err == nil && l.At <= last {
			err = fmt.Errorf("it was answered before the line above, or with it: %s", cells[0])
		}
		if err != nil {
			return fmt.Errorf("read an export: line %d: %w", number, err)
		}
		l.Number, last = number, l.At
		if err := yield(l); err != nil {
			return err
		}
	}
}

// parse reads the cells of a line, in the order of [Columns].
func parse(cells []string, mark capture.DecimalMark) (l Line, err error) {
	p := parser{cells: cells, mark: mark}
	l.At = p.instant("answered")
	r := &l.Reading
	r.Measured = p.instant("measured")
	r.HalfWidth = time.Duration(math.Round(p.number("half_width_s") * 1e9))
	r.Channel = capture.ChannelID(p.text("channel"))
	l.Placement = capture.Placement{Channel: r.Channel, Rail: p.text("rail"), Point: p.text("point")}
	p.read("hold", func(s string) (err error) { l.Placement.Hold, err = capture.ParseHold(s); return err })
	p.read("quantity", func(s string) error { return r.Quantity.UnmarshalText([]byte(s)) })
	r.Value, r.Resolution, r.Text = p.number("value"), p.number("resolution"), p.text("text")
	p.read("flags", func(s string) (err error) { r.Flags, err = capture.ParseFlags(s); return err })
	p.read("ordinal", func(s string) (err error) { r.Ordinal, err = strconv.ParseUint(s, 10, 64); return err })
	switch {
	case p.err != nil:
		return l, p.err
	case l.At == 0 || r.Channel == "":
		return l, errors.New("it does not say when, or by which channel")
	case p.cell("unit") != r.Quantity.Unit().ASCII():
		return l, fmt.Errorf("%s in %q: it is in %s", r.Quantity, p.cell("unit"), r.Quantity.Unit().ASCII())
	}
	if r.HasValue() && p.cell("value") == "" {
		return l, errors.New("it has no value, and no flag says why")
	}
	return l, nil
}

// parser reads cells by the name of their column and keeps the first error.
type parser struct {
	cells []string
	mark  capture.DecimalMark
	err   error
}

func (p *parser) cell(name string) string { return p.cells[slices.Index(Columns(), name)] }

func (p *parser) read(name string, f func(string) error) {
	if s := p.cell(name); s != "" && p.err == nil {
		if err := f(s); err != nil {
			p.err = fmt.Errorf("column %s: %w", name, err)
		}
	}
}

func (p *parser) instant(name string) (at capture.Instant) {
	p.read(name, func(s string) error {
		t, err := time.Parse("2006-01-02T15:04:05.000000-07:00", s)
		at = capture.InstantOf(t)
		return err
	})
	return at
}

func (p *parser) number(name string) (v float64) {
	p.read(name, func(s string) (err error) {
		if p.mark == capture.Comma {
			s = strings.Replace(s, ",", ".", 1)
		}
		v, err = strconv.ParseFloat(s, 64)
		return err
	})
	return v
}

func (p *parser) text(name string) string { return meant(p.cell(name)) }

// meant takes the apostrophe off again that [Harmless] put before a text.
func meant(cell string) string {
	if rest, had := strings.CutPrefix(cell, "'"); had && Harmless(rest) == cell {
		return rest
	}
	return cell
}
