package table

import (
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"steadyrail/capture"
)

// Row is a row that was read. Values is valid until the next one.
type Row struct {
	Line      int
	Measured  capture.Instant // what the row says
	HalfWidth time.Duration   // half of the last digit of its time, at least a microsecond
	Values    []Value
}

// Value is one cell that is taken. An empty cell gives none.
type Value struct {
	At         capture.Instant // strictly increasing over the file
	Column     int             // in [Layout.Columns]
	Value      float64         // base unit
	Resolution float64         // base unit, one count of the last digit
	Text       string          // as it stands there, with a point; "" when a prefix was taken off
	Flags      capture.Flags   // why there is no number
}

// Tally is what a file came to.
type Tally struct {
	Rows        int
	Values      int
	Empty       int             // cells of taken columns with nothing in them
	NoNumber    int             // cells that say that there is no number
	Shifted     int             // values whose instant is not the row's own
	First, Last capture.Instant // of the values
}

// Read streams every row to yield. A row that cannot be taken is reported in a
// [*BadRows] together with all others; from the first on, yield is not called
// any more. An error of yield ends it, and so does the context.
func (l *Layout) Read(ctx context.Context, r io.Reader, yield func(Row) error) (Tally, error) {
	in, _, err := decode(r, l.Encoding)
	if err != nil {
		return Tally{}, fmt.Errorf("read: %w", err)
	}
	rd := &reading{l: l, s: newScanner(in, l.Separator), yield: yield, taken: l.Taken()}
	if err := rd.all(ctx); err != nil {
		return rd.tally, err
	}
	if err := rd.sorted(); err != nil {
		return rd.tally, err
	}
	if rd.bad.Count == 0 && rd.tally.Values == 0 {
		return rd.tally, unclear("no row has a value")
	}
	return rd.tally, rd.bad.orNil()
}

// reading is one run through a file.
type reading struct {
	l      *Layout
	s      *scanner
	yield  func(Row) error
	taken  []int
	row    Row
	held   []Row   // waiting to be sorted
	index0 float64 // number of the first sample
	before capture.Instant
	tally  Tally
	bad    BadRows
}

func (rd *reading) all(ctx context.Context) error {
	for n := 0; ; n++ {
		if n%1024 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		rec, err := rd.s.next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return fmt.Errorf("read behind line %d: %w", rec.line, err)
		}
		if rec.bad != "" && (rec.last || rec.line >= rd.l.FirstLine) {
			rd.bad.add(rec.line, "%s", rec.bad)
		} else if rec.line >= rd.l.FirstLine && !rec.blank() {
			if err := rd.take(rec); err != nil {
				return err
			}
		}
		if rec.last {
			rd.bad.Ended = true
			return nil
		}
	}
}

// take reads a row and hands it on.
func (rd *reading) take(rec record) error {
	rd.tally.Rows++
	width := len(rd.l.Columns)
	if n := len(rec.cells); n != width && (n != width+1 || rec.cells[width] != "") {
		rd.bad.misfit(rec.line, n, rd.l)
		return nil
	}
	rd.row = Row{Line: rec.line, Values: rd.row.Values[:0]}
	if why := rd.when(rec.cells); why != "" {
		rd.bad.add(rec.line, "%s", why)
		return nil
	}
	good := true
	for _, i := range rd.taken {
		if why := rd.value(i, rec.cells[i]); why != "" {
			rd.bad.add(rec.line, "column %d, %s: %s", i+1, rd.l.Columns[i].Name, why)
			good = false
			break
		}
	}
	switch {
	case !good:
		return nil
	case !rd.l.sort:
		return rd.hand(rd.row)
	case len(rd.held) == MaxSorted:
		return fmt.Errorf("line %d: more than %d rows cannot be sorted: sort the file before", rec.line, MaxSorted)
	}
	row := rd.row
	row.Values = slices.Clone(row.Values)
	rd.held = append(rd.held, row)
	return nil
}

// sorted hands on the rows that waited, by time; rows of equal time stay in the
// order of the file.
func (rd *reading) sorted() error {
	slices.SortStableFunc(rd.held, func(a, b Row) int { return int(min(1, max(-1, a.Measured-b.Measured))) })
	for _, row := range rd.held {
		if err := rd.hand(row); err != nil {
			return err
		}
	}
	return nil
}

// hand stamps the values of a row and gives it to who asked.
func (rd *reading) hand(row Row) error {
	if before := rd.before; before != 0 && row.Measured < before {
		rd.bad.add(row.Line, "its time %s lies before that of the row above, %s; --sort sorts rows", Stamp(row.Measured, nil), Stamp(before, nil))
	}
	rd.before = row.Measured
	at := row.Measured
	slack := 2*row.HalfWidth + time.Duration(len(rd.taken))*time.Microsecond
	for i := range row.Values {
		if at <= rd.tally.Last {
			at = rd.tally.Last + 1
		}
		if late := at.Sub(row.Measured); late > slack && rd.bad.Count == 0 {
			rd.bad.add(row.Line, "rows follow each other faster than the microseconds that a record has: let the file be written with fewer rows a second, or take fewer columns with --take")
		}
		if at != row.Measured {
			rd.tally.Shifted++
		}
		row.Values[i].At, rd.tally.Last = at, at
		if rd.tally.First == 0 {
			rd.tally.First = at
		}
		rd.tally.Values++
	}
	if rd.bad.Count > 0 || rd.yield == nil || len(row.Values) == 0 {
		return nil
	}
	return rd.yield(row)
}

// value reads a cell of a column that is taken.
func (rd *reading) value(i int, text string) (why string) {
	if text == "" {
		rd.tally.Empty++
		return ""
	}
	v := Value{Column: i}
	if flags, ok := noNumber(text); ok {
		v.Flags = flags
	} else {
		f, why := rd.figure(text)
		if why != "" {
			return why
		}
		if v.Flags, ok = f.special(); !ok {
			c := rd.l.Columns[i]
			if v.Value, v.Resolution, ok = f.value(c.shift); !ok {
				return quoted(text) + " is beyond anything a bench measures"
			}
			if c.shift == 0 {
				v.Text = f.text()
			}
		}
	}
	if v.Flags != 0 {
		rd.tally.NoNumber++
	}
	rd.row.Values = append(rd.row.Values, v)
	return ""
}

// figure reads a number with the decimal sign of the file.
func (rd *reading) figure(text string) (f figure, why string) {
	f, ok := parseFigure(text)
	switch {
	case !ok:
		return f, quoted(text) + " is no number"
	case f.grouped:
		return f, quoted(text) + " has more than one point or comma: numbers are read without marks between thousands"
	case f.mark != 0 && rd.l.Decimal == 0:
		return f, quoted(text) + " has a decimal sign, and none of the rows that were looked at had one: give --decimal point or --decimal comma"
	case f.mark != 0 && f.mark != rd.l.Decimal:
		return f, fmt.Sprintf("%s has a %s, and the decimal sign is the %s", quoted(text), signName(f.mark), signName(rd.l.Decimal))
	}
	return f, ""
}

func signName(b byte) string {
	if b == ',' {
		return "comma"
	}
	return "point"
}
