package store

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"slices"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
)

// blockSize is how many bytes a full block's data may have. In a database of
// 4096-byte pages a row of it fills two overflow pages to the last byte and
// leaves 489 bytes in the tree, where eight such rows share a page
// (sqlite.org/fileformat2.html, section 1.5: K = M).
const blockSize = 489 + 2*4092 - 5

// enough is the part of a block that must be filled for it to be sealed.
const enough = blockSize - blockSize/64

// blockNumber is the number of block k of a channel in the file.
func blockNumber(channel, k int64) int64 { return channel<<32 | k }

// filling is what a channel has: blocks that are full, and readings that wait
// for the next. It can be copied; rows are only ever appended, or move when some
// are cut off in front.
type filling struct {
	blocks int64 // sealed
	base   int64 // readings in them
	rows   []block.Row
	guess  int         // readings at which the next block may be full
	spare  []block.Row // room to move to; nil: none is to be had
}

// leastGuess keeps a channel whose readings are long from coding the same ones
// again and again.
const leastGuess = 1500

// full cuts the readings of the next full block off and returns them with their
// coded form, if there are enough. A channel's readings seldom change their kind:
// as many as filled the block before are tried first, and nearly always do.
func (f *filling) full(e *block.Encoder, scratch []byte) (rows []block.Row, data []byte) {
	for f.guess = max(f.guess, leastGuess); len(f.rows) >= f.guess; {
		n := min(f.guess, block.MaxRows)
		data = e.Append(scratch[:0], f.rows[:n])
		if len(data) < enough && n < block.MaxRows {
			f.guess = max(min(block.MaxRows, n+n/64), aim(n, data))
			scratch = data
			continue
		}
		n, data = shrink(e, data, f.rows[:n])
		rows = f.rows[:n]
		f.guess = aim(n, data)
		f.cut(n)
		return rows, data
	}
	return nil, data
}

// aim returns how many readings will fill a block, when n of the kind gave data.
func aim(n int, data []byte) int {
	return min(block.MaxRows, n*((blockSize+enough)/2)/len(data))
}

// shrink finds how many of the rows fill a block.
func shrink(e *block.Encoder, data []byte, rows []block.Row) (int, []byte) {
	n, fits, over := len(rows), 0, len(rows)+1
	for range 12 {
		switch {
		case len(data) > blockSize:
			over = n
		case len(data) >= enough || n == block.MaxRows || n+1 >= over:
			return n, data
		default:
			fits = n
		}
		n = min(max(aim(n, data), fits+1), over-1)
		data = e.Append(data[:0], rows[:n])
	}
	for len(data) > blockSize && n > 1 {
		n = max(1, n*9/10)
		data = e.Append(data[:0], rows[:n])
	}
	return n, data
}

// grow makes room for as many as the next block is thought to need and some more,
// or for twice what there is: grown by a quarter at a time, a commit would move
// all that waits.
func (f *filling) grow() {
	f.rows = slices.Grow(f.rows, max(8, f.guess+f.guess/4-len(f.rows), len(f.rows)))
}

// cut takes the first n waiting readings away as a block. Their place stays as it
// is, for a commit that does not come about: what waits on moves.
func (f *filling) cut(n int) {
	rest := f.rows[n:]
	if f.spare == nil && len(rest) > 0 {
		f.spare = make([]block.Row, 0, len(rest)+n+n/4)
	}
	f.rows, f.spare = append(f.spare, rest...), nil
	f.blocks++
	f.base += int64(n)
}

// chunk is a run of one channel's readings in a row of table tail or rest.
type chunk struct {
	channel int64
	base    int64 // readings of the channel before
	data    []byte
}

// appendChunk writes the form that table tail has.
func appendChunk(b []byte, c chunk) []byte {
	b = binary.AppendUvarint(b, uint64(c.channel))
	b = binary.AppendUvarint(b, uint64(c.base))
	b = binary.AppendUvarint(b, uint64(len(c.data)))
	return append(b, c.data...)
}

// chunks reads what appendChunk wrote.
func chunks(b []byte) (out []chunk, err error) {
	for len(b) > 0 {
		var v [3]uint64
		for i := range v {
			n := 0
			if v[i], n = binary.Uvarint(b); n <= 0 {
				return nil, fmt.Errorf("%w: a run of readings breaks off", block.ErrCorrupt)
			}
			b = b[n:]
		}
		if v[0] >= 1<<31 || v[1] >= 1<<62 || v[2] > uint64(len(b)) {
			return nil, fmt.Errorf("%w: a run of readings that cannot be", block.ErrCorrupt)
		}
		out = append(out, chunk{int64(v[0]), int64(v[1]), b[:v[2]:v[2]]})
		b = b[v[2]:]
	}
	return out, nil
}

// add takes readings that follow on those the filling has; what it has already
// is passed over.
func (f *filling) add(base int64, rows []block.Row) error {
	have := f.base + int64(len(f.rows))
	if base > have {
		return fmt.Errorf("%w: readings %d to %d of a channel are missing", block.ErrCorrupt, have+1, base)
	}
	if known := have - base; known < int64(len(rows)) {
		f.rows = append(f.rows, rows[known:]...)
	}
	return nil
}

// appendSeal writes a commit behind another into a row of table fold.
func appendSeal(b []byte, before, s seal) []byte {
	b = binary.AppendUvarint(b, uint64(s.last-s.first+1))
	b = binary.AppendUvarint(b, uint64(s.upto-before.upto))
	b = binary.AppendUvarint(b, uint64(s.ties))
	return append(b, s.mark[:]...)
}

// seals reads what appendSeal wrote: commits behind another.
func seals(b []byte, before seal) (out []seal, err error) {
	for len(b) > 0 {
		var v [3]uint64
		for i := range v {
			n := 0
			if v[i], n = binary.Uvarint(b); n <= 0 || v[i] >= 1<<62 {
				return nil, fmt.Errorf("%w: the list of commits breaks off behind %d", block.ErrCorrupt, before.n)
			}
			b = b[n:]
		}
		s := before.next(int64(v[0]))
		if n := copy(s.mark[:], b); n < len(s.mark) {
			return nil, fmt.Errorf("%w: the list of commits breaks off behind %d", block.ErrCorrupt, before.n)
		}
		b = b[len(s.mark):]
		if s.upto, s.ties = before.upto+capture.Instant(v[1]), uint32(v[2]); s.upto > farthest || s.last < before.last {
			return nil, fmt.Errorf("%w: commit %d cannot be", block.ErrCorrupt, s.n)
		}
		out, before = append(out, s), s
	}
	return out, nil
}

// sorted returns the keys of a map in order.
func sorted[K cmp.Ordered, V any](m map[K]V) []K {
	out := make([]K, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
