package table

import (
	"bytes"
	"fmt"
	"io"
	"time"

	"steadyrail/capture"
)

// Options say what a file does not, or overrule what it seems to say. The zero
// value lets everything be found.
type Options struct {
	Encoding  Encoding
	Separator byte           // ',', ';' or '\t'; 0: find it
	Decimal   byte           // '.' or ','; 0: find it
	Zone      *time.Location // of times without an offset; nil: UTC
	Dates     DateOrder
	Time      string // columns of the time, by name or number: "Time", "Time:ms", "Date+Time", "row"; "": find them
	Start     string // when second or row 0 was, or the date of times of day
	Interval  string // from row to row: "0.4 us"
	Take      []Take // columns to be taken; none: all whose unit is known
	Sort      bool   // rows may stand in any order
}

// DateOrder is what comes first in a date such as 03/12/2031.
type DateOrder string

// The orders; the zero value is "find it".
const (
	DayFirst   DateOrder = "day-first"
	MonthFirst DateOrder = "month-first"
)

// Pair is a line before the header.
type Pair struct {
	Line       int
	Key, Value string // Key is empty for a line that is no pair
	Used       bool   // understood and taken; the rest is kept as text
}

// Column is one column of the file.
type Column struct {
	Name     string
	Unit     string            // as the file or an option says it
	Channel  capture.ChannelID // what it is taken as; empty: left out
	Quantity capture.Quantity
	kind     kind
	shift    int // power of ten to the base unit
}

// Layout is how a file is understood.
type Layout struct {
	Encoding   Encoding
	Separator  byte // ',', ';' or '\t'
	Decimal    byte // '.' or ','; 0: no number that was looked at has one
	Preamble   []Pair
	HeaderLine int // 0: there is none
	UnitLine   int // 0: there is none
	FirstLine  int // where the rows begin
	Columns    []Column
	Clock      Clock
	Declared   int        // rows that the file says it has; 0: it does not say
	First      [][]string // the first rows, at most five
	sort       bool
	guessed    bool // nobody said what parts the cells
}

// Taken returns the numbers, from 0, of the columns that are taken.
func (l *Layout) Taken() []int {
	var out []int
	for i, c := range l.Columns {
		if c.Channel != "" {
			out = append(out, i)
		}
	}
	return out
}

// Understand looks at the beginning of a file and says how it is read. The
// error wraps [ErrUnclear] when an option is missing.
func Understand(r io.Reader, o Options) (layout *Layout, err error) {
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	sample, enc, err := sampleOf(r, o.Encoding)
	if err != nil {
		return nil, err
	}
	said := o.Separator != 0
	g, err := detect(sample, &o)
	if err != nil {
		return nil, err
	}
	if !said {
		defer func() { err = g.guessed(err) }()
	}
	l := &Layout{Encoding: enc, Separator: g.sep, FirstLine: g.firstLine(), sort: o.Sort, guessed: !said && g.width > 1}
	for i := g.first; i < len(g.rows) && len(l.First) < 5; i++ {
		l.First = append(l.First, g.rows[i].cells)
	}
	if l.Decimal, err = g.decimal(o.Decimal); err != nil {
		return nil, err
	}
	facts := g.preamble(l)
	g.columns(l, facts)
	if l.Clock, err = findClock(l, g, facts, o); err != nil {
		return nil, err
	}
	if err := assign(l, o.Take); err != nil {
		return nil, err
	}
	return l, nil
}

// sampleOf reads the beginning of a file, up to the end of a line.
func sampleOf(r io.Reader, want Encoding) ([]byte, Encoding, error) {
	in, enc, err := decode(r, want)
	if err != nil {
		return nil, "", fmt.Errorf("read: %w", err)
	}
	sample, err := io.ReadAll(io.LimitReader(in, sampleSize))
	if err != nil {
		return nil, "", fmt.Errorf("read: %w", err)
	}
	if i := bytes.LastIndexByte(sample, '\n'); len(sample) == sampleSize && i > 0 {
		sample = sample[:i+1]
	}
	return sample, enc, nil
}

// columns names the columns after the header, and says their units: after the
// row of units, the header, or what stands before it.
func (g *grid) columns(l *Layout, f facts) {
	for i := range g.width {
		c := Column{Name: "column " + itoa(i+1), kind: g.kinds[i]}
		if g.header >= 0 {
			l.HeaderLine = g.rows[g.header].line
			if name := cell(g.rows[g.header].cells, i); name != "" {
				c.Name, c.Unit = splitName(name)
				if c.Name == "" {
					c.Name = name
				}
			}
		}
		if g.units >= 0 {
			l.UnitLine = g.rows[g.units].line
			if u := cell(g.rows[g.units].cells, i); u != "" {
				c.Unit = u
			}
		}
		l.Columns = append(l.Columns, c)
	}
	if f.valueUnit == "" {
		return
	}
	for i := range l.Columns {
		if c := &l.Columns[i]; c.Unit == "" && c.kind == kindFigure && !timeName(c.Name) && !indexName(c.Name) {
			c.Unit = f.valueUnit
		}
	}
}

func cell(cells []string, i int) string {
	if i >= len(cells) {
		return ""
	}
	return cells[i]
}
