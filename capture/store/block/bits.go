package block

import (
	"encoding/binary"
	"math/bits"
	"slices"
)

// A Rice code of u with parameter k is the quotient u>>k as that many zero
// bits, a one bit, and the low k bits of u. After longest zero bits there is no
// one bit and u follows in 64 bits. Bits fill bytes from the least significant.
const (
	longest   = 24
	escaped   = longest + 64 // bits of an escaped number
	mostQuick = 32           // a code with at most this k fits into one load of 57 bits: 23 + 1 + 32
)

// bitWriter gathers bits. buf always has room for the next eight bytes at pos.
type bitWriter struct {
	buf  []byte
	pos  int
	acc  uint64
	fill uint // bits in acc, below 8 between calls
}

func (w *bitWriter) reset() { w.pos, w.acc, w.fill = 0, 0, 0 }

// room makes room for n more Rice codes.
func (w *bitWriter) room(n int) {
	if need := w.pos + n*(escaped/8+1) + 16; need > len(w.buf) {
		w.buf = slices.Grow(w.buf[:w.pos], need-w.pos)
		w.buf = w.buf[:cap(w.buf)]
	}
}

// put writes the low n bits of v, at most 56; the others are zero.
func (w *bitWriter) put(v uint64, n uint) {
	w.acc |= v << (w.fill & 63)
	binary.LittleEndian.PutUint64(w.buf[w.pos:], w.acc)
	n += w.fill
	w.pos += int(n >> 3)
	w.acc >>= n &^ 7 & 63
	w.fill = n & 7
}

// long writes the low n bits of v, at most 64.
func (w *bitWriter) long(v uint64, n uint) {
	low := min(n, 32)
	w.put(v&(1<<low-1), low)
	w.put(v>>low, n-low)
}

// rice writes the code of u and reports whether it was escaped.
func (w *bitWriter) rice(u uint64, k uint) bool {
	q := u >> k
	if q >= longest {
		w.put(0, longest)
		w.long(u, 64)
		return true
	}
	low := u & (1<<k - 1)
	if k <= mostQuick {
		w.put((low<<1|1)<<q, uint(q)+1+k)
		return false
	}
	w.put(1<<q, uint(q)+1)
	w.long(low, k)
	return false
}

// mostBoundBits limits the bounds to what one load suffices for.
const mostBoundBits = 56

// bounded returns how numbers below a bound of 1 to 2^56 are written: those
// below cut in short bits, the others in one bit more.
func bounded(bound uint64) (short uint, cut uint64) {
	short = uint(bits.Len64(bound)) - 1
	return short, 2<<short - bound
}

// below writes u in a code of numbers below the bound, of which the last
// announces an escaped one, and reports whether it was escaped.
func (w *bitWriter) below(u, bound uint64, short uint, cut uint64) bool {
	v := min(u, bound-1)
	if v < cut {
		w.put(v, short)
	} else {
		w.put((v+cut)>>1|(v+cut)&1<<short, short+1)
	}
	if v == bound-1 {
		w.long(u, 64)
		return true
	}
	return false
}

// bytes ends the stream; the last byte is filled up with zero bits.
func (w *bitWriter) bytes() []byte {
	if w.fill > 0 {
		w.buf[w.pos] = byte(w.acc)
		return w.buf[:w.pos+1]
	}
	return w.buf[:w.pos]
}

// spare zero bytes behind the stream let a reader load without looking.
const spare = 32

// bitReader reads a stream. Reading beyond the end gives zeros, and a position
// behind end tells.
type bitReader struct {
	buf      []byte // the stream and spare zeros
	pos, end uint64 // in bits
}

// load returns at least 57 bits from pos on.
func (r *bitReader) load(pos uint64) uint64 {
	return binary.LittleEndian.Uint64(r.buf[pos>>3:]) >> (pos & 7)
}

// wide returns n bits from pos on, at most 64.
func (r *bitReader) wide(pos uint64, n uint) uint64 {
	v := r.load(pos)&(1<<32-1) | r.load(pos+32)<<32
	if n < 64 {
		v &= 1<<n - 1
	}
	return v
}

// rice reads one code and reports whether it was escaped and whether it lay
// within the stream.
func (r *bitReader) rice(k uint) (u uint64, wasEscaped, ok bool) {
	q := uint64(bits.TrailingZeros64(r.load(r.pos)))
	if q >= longest {
		u = r.wide(r.pos+longest, 64)
		r.pos += escaped
		return u, true, r.pos <= r.end
	}
	u = r.wide(r.pos+q+1, k) | q<<k
	r.pos += q + 1 + uint64(k)
	return u, false, r.pos <= r.end
}

// finish reports whether the stream ended where its bytes end, with zero bits
// up to there.
func (r *bitReader) finish() bool {
	return (r.pos+7)>>3 == r.end>>3 && r.load(r.pos) == 0
}
