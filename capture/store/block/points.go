package block

import (
	"slices"

	"steadyrail/capture"
)

// Points appends what overviews need of the rows to dst. It does not look at
// the columns behind, so that it can succeed where [Decoder.Rows] fails. Its
// error wraps [ErrCorrupt]; dst comes back as it was then.
func (d *Decoder) Points(dst []Point, data []byte) ([]Point, error) {
	n, _, err := d.front(data)
	if err != nil {
		return dst, err
	}
	from := len(dst)
	dst = slices.Grow(dst, n)[:from+n]
	out := dst[from:]
	if len(d.forms) == 1 {
		d.points(out)
		return dst, nil
	}
	cursors := d.cursors()
	for i := range out {
		n := d.index[i]
		f := &d.forms[n]
		_, value := d.next(f, &cursors[n])
		out[i] = Point{capture.Instant(d.at[i]), uint32(d.tie[i]), value, f.flags}
	}
	return dst, nil
}

// points fills in a block of one form, without looking it up for each row.
func (d *Decoder) points(out []Point) {
	f := &d.forms[0]
	at, tie, flags := d.at[:len(out)], d.tie[:len(out)], f.flags
	switch {
	case f.explicit:
		for i, b := range d.values {
			out[i] = Point{capture.Instant(at[i]), uint32(tie[i]), unordered(b), flags}
		}
	case f.decimal:
		p := f.pattern
		over, exact := p.divisor()
		for i, m := range d.digits {
			value := float64(m) / over
			if !exact || m >= mostExact || m <= -mostExact {
				value = p.value(m)
			}
			out[i] = Point{capture.Instant(at[i]), uint32(tie[i]), value, flags}
		}
	default:
		for i := range out {
			out[i] = Point{capture.Instant(at[i]), uint32(tie[i]), 0, flags}
		}
	}
}
