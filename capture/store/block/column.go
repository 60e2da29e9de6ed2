package block

import (
	"encoding/binary"
	"slices"
)

// The ways to code what the prediction of a column missed.
const (
	codeNone  = iota // it missed nothing: a straight line
	codeRice         // a Rice code for each row
	codeRuns         // only what is not zero: the gap before it, and itself less one
	codeBound        // a number below a bound for each row
)

// straight is the shift that stands for no correction: a straight line.
const straight = 15

// fraction is the number of bits behind the point of a prediction. A column
// that spans too much for it goes without.
const (
	fraction = 15
	mostSpan = 1 << 46
)

// model predicts a column. Row i is base + unit*y(i) and y is predicted as p,
// which has frac bits behind the point, rounded.
type model struct {
	shift, frac uint
	unit        uint64
	base        int64
	step        int64 // of p, for a row
}

// correction returns what corrects p by what was missed: an arithmetic shift,
// and a mask that leaves nothing of it on a straight line.
func (m *model) correction() (shift uint, mask int64) {
	if m.shift == straight {
		return 0, 0
	}
	return m.shift, -1
}

// half is what rounds p.
func (m *model) half() int64 { return 1 << m.frac >> 1 }

// columns codes columns of integers; its scratch space is reused.
type columns struct {
	w      bitWriter
	sorted []int64
	gaps   []uint64
	events []uint64
}

// append appends the coded column and leaves xs spoilt. An empty column is
// nothing at all. Arithmetic wraps around.
func (c *columns) append(dst []byte, xs []int64) []byte {
	if len(xs) == 0 {
		return dst
	}
	if step, ok := line(xs); ok {
		dst = append(dst, codeNone)
		dst = binary.AppendVarint(dst, xs[0])
		return binary.AppendVarint(dst, step)
	}
	m := model{base: xs[0]}
	m.unit = reduce(xs)
	how := c.choose(&m, xs)
	dst = append(dst, byte(how.code), byte(m.shift|m.frac<<4))
	dst = binary.AppendUvarint(dst, m.unit)
	dst = binary.AppendVarint(dst, m.base)
	dst = binary.AppendVarint(dst, m.step)
	c.w.reset()
	switch how.code {
	case codeRice:
		dst = append(dst, byte(how.k))
		c.rice(&m, xs, how.k)
	case codeBound:
		dst = c.bound(dst, &m, xs)
	case codeRuns:
		dst = c.runs(dst, &m, xs, how.k)
	}
	stream := c.w.bytes()
	dst = binary.AppendUvarint(dst, uint64(len(stream)))
	return append(dst, stream...)
}

// line reports whether the column is a straight line, and its step.
func line(xs []int64) (step int64, ok bool) {
	if len(xs) > 1 {
		step = xs[1] - xs[0]
	}
	for i := 1; i < len(xs); i++ {
		if xs[i]-xs[i-1] != step {
			return 0, false
		}
	}
	return step, true
}

// reduce puts distances from the first, in units, into xs. The unit is their
// greatest common divisor.
func reduce(xs []int64) (unit uint64) {
	first := xs[0]
	for i, x := range xs {
		d := x - first
		xs[i] = d
		if unit != 1 {
			unit = divisor(uint64(max(d, -d)), unit) // the least int64 is its own negative: 2^63
		}
	}
	if unit == 1 {
		return 1
	}
	for i, d := range xs {
		if d < 0 {
			xs[i] = -int64(uint64(-d) / unit)
		} else {
			xs[i] = int64(uint64(d) / unit)
		}
	}
	return unit
}

// divisor returns the greatest common divisor; 0 is divided by everything.
func divisor(a, b uint64) uint64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// rice writes a code for every row.
func (c *columns) rice(m *model, ys []int64, k uint) {
	w := &c.w
	w.room(len(ys))
	shift, mask := m.correction()
	half, frac, step := m.half(), m.frac, m.step
	var p int64
	for _, y := range ys {
		if w.rice(zigzag(y-(p+half)>>frac), k) {
			p = y << frac
		}
		p += step + (y<<frac-p)>>shift&mask
	}
}

// bound appends the bound that suits the whole column, and writes its stream.
func (c *columns) bound(dst []byte, m *model, ys []int64) []byte {
	var h histogram
	h.follow(m, ys, 0, 0, 0, 63)
	bound, _ := h.bound(len(ys))
	short, cut := bounded(bound)
	w := &c.w
	w.room(len(ys))
	shift, mask := m.correction()
	half := m.half()
	var p int64
	for _, y := range ys {
		if w.below(zigzag(y-(p+half)>>m.frac), bound, short, cut) {
			p = y << m.frac
		}
		p += m.step + (y<<m.frac-p)>>shift&mask
	}
	return binary.AppendUvarint(dst, bound)
}

// runs appends the heads of a column of runs and writes its stream.
func (c *columns) runs(dst []byte, m *model, ys []int64, k uint) []byte {
	c.gaps, c.events = c.gaps[:0], c.events[:0]
	shift, mask := m.correction()
	half, last := m.half(), -1
	var p int64
	for i, y := range ys {
		if u := zigzag(y - (p+half)>>m.frac); u != 0 {
			c.gaps = append(c.gaps, uint64(i-last-1))
			c.events = append(c.events, u-1)
			last = i
			if (u-1)>>k >= longest {
				p = y << m.frac
			}
		}
		p += m.step + (y<<m.frac-p)>>shift&mask
	}
	var h histogram
	for _, g := range c.gaps {
		h.add(g)
	}
	gap, _ := h.best()
	c.w.room(2 * len(c.gaps))
	for i, g := range c.gaps {
		c.w.rice(g, gap)
		c.w.rice(c.events[i], k)
	}
	dst = append(dst, byte(gap), byte(k))
	return binary.AppendUvarint(dst, uint64(len(c.gaps)))
}

// median returns the middle one of the values, which it sorts.
func median(vs []int64) int64 {
	slices.Sort(vs)
	return vs[len(vs)/2]
}
