package block

import (
	"slices"
	"time"

	"steadyrail/capture"
)

// Decoder reads blocks. The zero value is ready; it keeps scratch space and is
// not safe for concurrent use.
type Decoder struct {
	r       reader
	at, tie []int64
	index   []int64 // of each row, its form; empty when there is one form
	forms   []decoded
	digits  []int64 // form by form
	values  []int64 // explicit ones, form by form
	half    []int64
	lag     []int64
	ordinal []int64
	text    []byte
	ends    []int32 // of each text in text
}

// decoded is a form as the decoder uses it.
type decoded struct {
	form
	worth, span float64 // Resolution and Range
	rows        int
}

// cursor says where the next digits and the next explicit value of a form are.
type cursor struct{ digits, values int }

// Rows appends the rows of a block to dst. The texts of a block share memory.
// Its error wraps [ErrCorrupt]; dst comes back as it was then.
func (d *Decoder) Rows(dst []Row, data []byte) ([]Row, error) {
	n, data, err := d.front(data)
	if err != nil {
		return dst, err
	}
	for _, xs := range []*[]int64{&d.half, &d.lag, &d.ordinal} {
		if data, err = d.column(xs, n, data); err != nil {
			return dst, err
		}
	}
	if len(data) != 0 {
		return dst, corrupt("%d bytes behind the end", len(data))
	}
	from := len(dst)
	dst = slices.Grow(dst, n)[:from+n]
	d.fill(dst[from:])
	return dst, nil
}

func (d *Decoder) fill(out []Row) {
	cursors := d.cursors()
	d.text, d.ends = d.text[:0], d.ends[:0]
	for i := range out {
		n := d.formOf(i)
		f := &d.forms[n]
		m, value := d.next(f, &cursors[n])
		at, half := d.at[i], d.half[i]
		measured := at - d.lag[i] - floorDiv(half, 1000)
		out[i] = Row{At: capture.Instant(at), Tie: uint32(d.tie[i])}
		r := &out[i]
		r.Value, r.Flags, r.Text = value, f.flags, f.fixed
		r.Resolution, r.Range = f.worth, f.span
		r.Measured, r.HalfWidth, r.Ordinal = capture.Instant(measured), time.Duration(half), uint64(d.ordinal[i])
		if f.decimal {
			d.text = f.pattern.append(d.text, m)
		}
		d.ends = append(d.ends, int32(len(d.text)))
	}
	all, begin := string(d.text), int32(0)
	for i := range out {
		if end := d.ends[i]; end > begin {
			out[i].Text = all[begin:end]
			begin = end
		}
	}
}

// formOf returns the number of the form of row i.
func (d *Decoder) formOf(i int) int64 {
	if len(d.forms) == 1 {
		return 0
	}
	return d.index[i]
}

// next returns the digits and the value of a form's next row.
func (d *Decoder) next(f *decoded, c *cursor) (m int64, value float64) {
	if f.decimal {
		m = d.digits[c.digits]
		c.digits++
	}
	switch {
	case f.explicit:
		value = unordered(d.values[c.values])
		c.values++
	case f.decimal:
		value = f.pattern.value(m)
	}
	return m, value
}

// cursors returns where the numbers of each form begin.
func (d *Decoder) cursors() []cursor {
	out := make([]cursor, len(d.forms))
	var c cursor
	for n := range d.forms {
		out[n] = c
		if d.forms[n].decimal {
			c.digits += d.forms[n].rows
		}
		if d.forms[n].explicit {
			c.values += d.forms[n].rows
		}
	}
	return out
}
