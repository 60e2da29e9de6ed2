package store

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/bits"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
)

// floorTo returns the last multiple of step at or before t.
func floorTo(t, step capture.Instant) capture.Instant {
	r := t % step
	if r < 0 {
		r += step
	}
	return t - r
}

// sum gathers readings of one channel.
type sum struct {
	n, bad          int64
	min, max, total float64
	last            float64
	lastAt          capture.Instant
}

// add takes one more reading, in order.
func (s *sum) add(at capture.Instant, value float64, flags capture.Flags) {
	if flags.Has(capture.NoValue) || value != value {
		s.bad++
		return
	}
	s.merge(sum{n: 1, min: value, max: value, total: value, last: value, lastAt: at})
}

// merge adds what another sum has gathered.
func (s *sum) merge(o sum) {
	s.bad += o.bad
	if o.n == 0 {
		return
	}
	if s.n == 0 {
		s.min, s.max, s.last, s.lastAt = o.min, o.max, o.last, o.lastAt
	}
	s.min, s.max = min(s.min, o.min), max(s.max, o.max)
	if o.lastAt >= s.lastAt {
		s.last, s.lastAt = o.last, o.lastAt
	}
	s.n += o.n
	s.total += o.total
}

// cell sums up the readings of a block that lie in [start, start+width).
type cell struct {
	start capture.Instant
	sum
}

// perCell is how many readings a cell should have, roughly.
const perCell = 256

// widths of cells are powers of two in seconds, so that those of all channels
// fit into one another.
const widest = 40

// brief sums up one block, for overviews.
type brief struct {
	id          int64
	base        int64 // readings of the channel before
	n           int
	first, last capture.Instant // of the readings, in the order of time
	data        []byte          // u8 j: cells are 2^j seconds wide; then the cells
}

func (b *brief) k() int64 { return b.id & (1<<32 - 1) }

// newBrief sums up the readings of a block.
func newBrief(id, base int64, points []block.Point) brief {
	b := brief{id: id, base: base, n: len(points), first: points[0].At, last: points[0].At}
	for _, p := range points {
		b.first, b.last = min(b.first, p.At), max(b.last, p.At)
	}
	b.data = append(b.data, byte(cellWidth(b.last-b.first, len(points))))
	width := second << b.data[0]
	var cur cell
	before := floorTo(b.first, width)
	flush := func() {
		if cur.n+cur.bad > 0 {
			b.data = appendCell(b.data, (cur.start-before)/width, cur)
			before = cur.start
		}
	}
	for _, p := range points {
		if start := floorTo(p.At, width); start != cur.start || cur.n+cur.bad == 0 {
			flush()
			cur = cell{start: start}
		}
		cur.add(p.At, p.Value, p.Flags)
	}
	flush()
	return b
}

// cellWidth returns the power of two of seconds in which about perCell of n
// readings lie that were spread over a span.
func cellWidth(span capture.Instant, n int) int {
	w := uint64(span/second) * perCell / uint64(n)
	return min(bits.Len64(w), widest)
}

// appendCell writes a cell: how many cells behind the one before, the counts;
// and, unless there is no value, how long behind its start the last was, and
// the bits of least, greatest, sum and last. Of several NaN none stays apart: a
// computed one differs between processors.
func appendCell(b []byte, gap capture.Instant, c cell) []byte {
	s := c.sum
	b = binary.AppendUvarint(b, uint64(gap))
	b = binary.AppendUvarint(b, uint64(s.n))
	b = binary.AppendUvarint(b, uint64(s.bad))
	if s.n == 0 {
		return b
	}
	b = binary.AppendUvarint(b, uint64(s.lastAt-c.start))
	if s.total != s.total {
		s.total = math.NaN()
	}
	for _, v := range [...]float64{s.min, s.max, s.total, s.last} {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return b
}

// width returns how wide the brief's cells are.
func (b *brief) width() capture.Instant {
	if len(b.data) == 0 || b.data[0] > widest {
		return math.MaxInt64
	}
	return second << b.data[0]
}

// cells calls f for each cell in order of time.
func (b *brief) cells(f func(cell)) error {
	width := b.width()
	if width == math.MaxInt64 {
		return b.corrupt()
	}
	rest, before := b.data[1:], floorTo(b.first, width)
	for len(rest) > 0 {
		var c cell
		var ok bool
		if c, rest, ok = nextCell(rest, before, width); !ok || c.start > b.last {
			return b.corrupt()
		}
		before = c.start
		f(c)
	}
	return nil
}

func (b *brief) corrupt() error {
	return fmt.Errorf("%w: the summary of block %d of channel %d", block.ErrCorrupt, b.k(), b.id>>32)
}

// nextCell reads what appendCell wrote behind a cell that began at before.
func nextCell(b []byte, before, width capture.Instant) (c cell, rest []byte, ok bool) {
	number := func() int64 {
		v, n := binary.Uvarint(b)
		if n <= 0 || v > math.MaxInt64>>1 {
			b = nil
			return -1
		}
		b = b[n:]
		return int64(v)
	}
	gap := number()
	c.n, c.bad = number(), number()
	if gap < 0 || c.n < 0 || c.bad < 0 || gap > math.MaxInt64>>1/int64(width) {
		return c, nil, false
	}
	c.start = before + capture.Instant(gap)*width
	if c.n == 0 {
		return c, b, true
	}
	behind := number()
	if behind < 0 || len(b) < 32 {
		return c, nil, false
	}
	c.lastAt = c.start + capture.Instant(behind)
	for i, p := range [...]*float64{&c.min, &c.max, &c.total, &c.last} {
		*p = math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:]))
	}
	return c, b[32:], true
}
