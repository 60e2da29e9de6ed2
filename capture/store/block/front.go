package block

import (
	"math"
	"slices"
)

// front decodes what points need, and returns the number of rows and what
// follows.
func (d *Decoder) front(data []byte) (n int, rest []byte, err error) {
	if n, data, err = head(data); err != nil {
		return 0, nil, err
	}
	if data, err = d.column(&d.at, n, data); err != nil {
		return 0, nil, err
	}
	if data, err = d.column(&d.tie, n, data); err != nil {
		return 0, nil, err
	}
	for _, tie := range d.tie {
		if uint64(tie)>>32 != 0 {
			return 0, nil, corrupt("a rank of %d", tie)
		}
	}
	if data, err = d.readForms(n, data); err != nil {
		return 0, nil, err
	}
	rest, err = d.numbers(data)
	return n, rest, err
}

// column decodes a column of n rows into xs.
func (d *Decoder) column(xs *[]int64, n int, data []byte) (rest []byte, err error) {
	*xs = slices.Grow((*xs)[:0], n)[:n]
	return d.r.column(*xs, data)
}

// readForms decodes the forms and which row has which.
func (d *Decoder) readForms(n int, data []byte) (rest []byte, err error) {
	count, data, err := uvarint(data)
	if err != nil {
		return nil, err
	}
	if count < 1 || count > uint64(n) || count > uint64(len(data)/fewestForm) {
		return nil, corrupt("%d forms for %d rows in %d bytes", count, n, len(data))
	}
	d.forms = slices.Grow(d.forms[:0], int(count))[:count]
	for i := range d.forms {
		f := &d.forms[i]
		if data, err = f.read(data); err != nil {
			return nil, err
		}
		f.worth, f.span, f.rows = math.Float64frombits(f.resolution), math.Float64frombits(f.scale), 0
	}
	if count == 1 {
		d.forms[0].rows = n
		return data, nil
	}
	if data, err = d.column(&d.index, n, data); err != nil {
		return nil, err
	}
	for _, f := range d.index {
		if uint64(f) >= count {
			return nil, corrupt("a row of form %d of %d", f, count)
		}
		d.forms[f].rows++
	}
	return data, nil
}

// numbers decodes the digits and explicit values of all forms.
func (d *Decoder) numbers(data []byte) (rest []byte, err error) {
	d.digits, d.values = d.digits[:0], d.values[:0]
	for i := range d.forms {
		f := &d.forms[i]
		if f.decimal {
			if d.digits, data, err = d.more(d.digits, f.rows, data); err != nil {
				return nil, err
			}
		}
		if f.explicit {
			if d.values, data, err = d.more(d.values, f.rows, data); err != nil {
				return nil, err
			}
		}
	}
	return data, nil
}

// more decodes a column of n rows and appends it to xs.
func (d *Decoder) more(xs []int64, n int, data []byte) (all []int64, rest []byte, err error) {
	from := len(xs)
	xs = slices.Grow(xs, n)[:from+n]
	rest, err = d.r.column(xs[from:], data)
	return xs, rest, err
}
