package block

import (
	"encoding/binary"
	"fmt"
	"slices"
)

// Encoder codes blocks. The zero value is ready; it keeps scratch space and is
// not safe for concurrent use.
type Encoder struct {
	columns                     columns
	at, tie, half, lag, ordinal []int64
	index                       []int64 // of each row, its form
	digits                      []int64 // of each row
	xs                          []int64 // the column in work
	forms                       []form
	known                       map[form]int
	order, ends                 []int32 // rows by form
}

// Append appends the coded block of the rows to dst. It panics unless there
// are 1 to MaxRows of them.
func (e *Encoder) Append(dst []byte, rows []Row) []byte {
	if len(rows) < 1 || len(rows) > MaxRows {
		panic(fmt.Sprintf("block: %d rows, where 1 to %d can be", len(rows), MaxRows))
	}
	dst = append(dst, Version)
	dst = binary.AppendUvarint(dst, uint64(len(rows)))
	e.split(rows)
	dst = e.columns.append(dst, e.at)
	dst = e.columns.append(dst, e.tie)
	dst = e.appendForms(dst)
	dst = e.appendNumbers(dst, rows)
	dst = e.columns.append(dst, e.half)
	dst = e.columns.append(dst, e.lag)
	return e.columns.append(dst, e.ordinal)
}

// split takes the columns out of the rows, and finds their forms.
func (e *Encoder) split(rows []Row) {
	n := len(rows)
	for _, xs := range []*[]int64{&e.at, &e.tie, &e.half, &e.lag, &e.ordinal, &e.index, &e.digits} {
		*xs = slices.Grow((*xs)[:0], n)[:n]
	}
	e.forms = e.forms[:0]
	e.forget()
	last := 0
	for i := range rows {
		r := &rows[i]
		e.at[i], e.tie[i] = int64(r.At), int64(r.Tie)
		e.half[i], e.lag[i] = int64(r.HalfWidth), lag(int64(r.At), int64(r.Measured), int64(r.HalfWidth))
		e.ordinal[i] = int64(r.Ordinal)
		last, e.digits[i] = e.formOf(r, last)
		e.index[i] = int64(last)
	}
}

// forget empties the map of forms. One that grew large for an odd block is let
// go, since emptying it takes as long as it once was large.
func (e *Encoder) forget() {
	const usual = 256
	if len(e.known) > usual {
		e.known = nil
	}
	clear(e.known)
}

// appendForms appends the list of forms and, when there are several, the column
// that says which row has which.
func (e *Encoder) appendForms(dst []byte) []byte {
	dst = binary.AppendUvarint(dst, uint64(len(e.forms)))
	for i := range e.forms {
		dst = e.forms[i].append(dst)
	}
	if len(e.forms) > 1 {
		e.xs = append(e.xs[:0], e.index...)
		dst = e.columns.append(dst, e.xs)
	}
	return dst
}

// fewForms is how many forms are tried one by one: a text can match a form
// that is not its own simplest one.
const fewForms = 8

// formOf returns the number of the form of a row, and its digits. The form of
// the row before is tried first.
func (e *Encoder) formOf(r *Row, last int) (n int, m int64) {
	if last < len(e.forms) {
		if m, ok := e.forms[last].matches(r); ok {
			return last, m
		}
	}
	for n := range e.forms[:min(len(e.forms), fewForms)] {
		if m, ok := e.forms[n].matches(r); ok {
			return n, m
		}
	}
	f, m := formOf(r)
	if n, ok := e.known[f]; ok {
		return n, m
	}
	if e.known == nil {
		e.known = map[form]int{}
	}
	n = len(e.forms)
	e.known[f] = n
	e.forms = append(e.forms, f)
	return n, m
}

// appendNumbers appends, form by form, the column of the digits of its rows
// and that of their explicit values.
func (e *Encoder) appendNumbers(dst []byte, rows []Row) []byte {
	if len(e.forms) == 1 {
		return e.numbersOf(dst, rows, &e.forms[0], nil)
	}
	e.group()
	begin := int32(0)
	for n, end := range e.ends {
		dst = e.numbersOf(dst, rows, &e.forms[n], e.order[begin:end])
		begin = end
	}
	return dst
}

// numbersOf appends the columns of a form, of the rows in which, or of all.
func (e *Encoder) numbersOf(dst []byte, rows []Row, f *form, which []int32) []byte {
	if f.decimal {
		e.xs = pick(e.xs[:0], len(rows), which, func(i int) int64 { return e.digits[i] })
		dst = e.columns.append(dst, e.xs)
	}
	if f.explicit {
		e.xs = pick(e.xs[:0], len(rows), which, func(i int) int64 { return ordered(rows[i].Value) })
		dst = e.columns.append(dst, e.xs)
	}
	return dst
}

// pick appends what get gives for the rows in which, or for all n.
func pick(dst []int64, n int, which []int32, get func(int) int64) []int64 {
	if which == nil {
		for i := range n {
			dst = append(dst, get(i))
		}
	}
	for _, i := range which {
		dst = append(dst, get(int(i)))
	}
	return dst
}

// group puts the rows in order of their form into order, and where each form
// ends there into ends.
func (e *Encoder) group() {
	e.order = slices.Grow(e.order[:0], len(e.index))[:len(e.index)]
	e.ends = slices.Grow(e.ends[:0], len(e.forms))[:len(e.forms)]
	clear(e.ends)
	for _, f := range e.index {
		e.ends[f]++
	}
	begin := int32(0)
	for f, n := range e.ends {
		e.ends[f] = begin
		begin += n
	}
	for i, f := range e.index {
		e.order[e.ends[f]] = int32(i)
		e.ends[f]++
	}
}
