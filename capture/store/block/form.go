package block

import (
	"encoding/binary"
	"math"

	"steadyrail/capture"
)

// form is what readings have in common beside their digits. Forms are keys of
// a map: the numbers stand as the bits of a float64.
type form struct {
	flags             capture.Flags
	resolution, scale uint64 // Resolution and Range
	decimal           bool   // the text is digits after pattern, else it is fixed
	explicit          bool   // the value has a column of its own
	fixed             string
	pattern           pattern
}

// The bits of the byte that says what a form holds.
const (
	kindDecimal  = 1
	kindExplicit = 2
	mostKind     = kindDecimal | kindExplicit
)

// fewestForm is the least length of a coded form.
const fewestForm = 1 + 2 + 2 + 1 + 1

// matches reports whether a row has this form, and its digits.
func (f *form) matches(r *Row) (m int64, ok bool) {
	if r.Flags != f.flags || math.Float64bits(r.Resolution) != f.resolution || math.Float64bits(r.Range) != f.scale {
		return 0, false
	}
	value := 0.0
	if f.decimal {
		if m, ok = f.pattern.digits(r.Text); !ok {
			return 0, false
		}
		value = f.pattern.value(m)
	} else if r.Text != f.fixed {
		return 0, false
	}
	return m, (math.Float64bits(value) != math.Float64bits(r.Value)) == f.explicit
}

// formOf returns the form of a row and its digits.
func formOf(r *Row) (f form, m int64) {
	f = form{flags: r.Flags, resolution: math.Float64bits(r.Resolution), scale: math.Float64bits(r.Range)}
	value := 0.0
	if f.pattern, m, f.decimal = patternOf(r.Text); f.decimal {
		value = f.pattern.value(m)
	} else {
		f.fixed = r.Text
	}
	f.explicit = math.Float64bits(value) != math.Float64bits(r.Value)
	return f, m
}

// append appends the coded form.
func (f *form) append(dst []byte) []byte {
	dst = binary.AppendUvarint(dst, uint64(f.flags))
	dst = appendReal(dst, f.resolution)
	dst = appendReal(dst, f.scale)
	kind, text := byte(0), f.fixed
	if f.explicit {
		kind |= kindExplicit
	}
	if f.decimal {
		p := &f.pattern
		point := byte(0)
		if p.point {
			point = 1
		}
		dst = append(dst, kind|kindDecimal, byte(p.sign), byte(p.whole), byte(p.places), point)
		text = p.suffix
	} else {
		dst = append(dst, kind)
	}
	dst = binary.AppendUvarint(dst, uint64(len(text)))
	return append(dst, text...)
}

// read decodes a form and returns what follows.
func (f *form) read(data []byte) (rest []byte, err error) {
	flags, data, err := uvarint(data)
	if err != nil {
		return nil, err
	}
	resolution, data, err := readReal(data)
	if err != nil {
		return nil, err
	}
	scale, data, err := readReal(data)
	if err != nil {
		return nil, err
	}
	part, data, err := take(data, 1)
	if err != nil {
		return nil, err
	}
	kind := part[0]
	if flags > math.MaxUint16 || kind > mostKind {
		return nil, corrupt("a form with flags %d of kind %d", flags, kind)
	}
	*f = form{flags: capture.Flags(flags), resolution: resolution, scale: scale, decimal: kind&kindDecimal != 0, explicit: kind&kindExplicit != 0}
	var shape []byte
	if f.decimal {
		if shape, data, err = take(data, 4); err != nil {
			return nil, err
		}
	}
	length, data, err := uvarint(data)
	if err != nil {
		return nil, err
	}
	text, data, err := take(data, length)
	if err != nil {
		return nil, err
	}
	if !f.decimal {
		f.fixed = string(text)
		return data, nil
	}
	return data, f.pattern.read(shape, text)
}
