package block

import (
	"encoding/binary"
	"math/bits"
)

// quick decodes a column of Rice codes that one load each suffices for. When
// the stream ends early, s stands behind its end.
func (m *model) quick(s *bitReader, xs []int64, k uint) {
	shift, mask := m.correction()
	half, frac, step := m.half(), m.frac&15, m.step
	low := uint64(1)<<(k&63) - 1
	buf, pos := s.buf, s.pos
	var p int64
	for i := range xs {
		at := pos >> 3
		if at+8 > uint64(len(buf)) {
			break
		}
		w := binary.LittleEndian.Uint64(buf[at:]) >> (pos & 7)
		q := uint(bits.TrailingZeros64(w))
		if q >= longest {
			if s.pos = pos; pos > s.end {
				break
			}
			u := s.wide(pos+longest, 64)
			pos += escaped
			y := unzigzag(u) + (p+half)>>frac
			xs[i] = m.base + y*int64(m.unit)
			p = y<<frac + step
			continue
		}
		u := w>>((q+1)&63)&low | uint64(q)<<(k&63)
		pos += uint64(q + 1 + k)
		y := unzigzag(u) + (p+half)>>frac
		xs[i] = m.base + y*int64(m.unit)
		p += step + (y<<frac-p)>>(shift&15)&mask
	}
	s.pos = pos
}

// slow decodes any column of Rice codes.
func (m *model) slow(s *bitReader, xs []int64, k uint) {
	shift, mask := m.correction()
	half := m.half()
	var p int64
	for i := range xs {
		u, wasEscaped, ok := s.rice(k)
		if !ok {
			return
		}
		y := unzigzag(u) + (p+half)>>m.frac
		xs[i] = m.base + y*int64(m.unit)
		if wasEscaped {
			p = y << m.frac
		}
		p += m.step + (y<<m.frac-p)>>shift&mask
	}
}

// bound decodes a column of numbers below a bound. When the stream ends early,
// s stands behind its end.
func (m *model) bound(s *bitReader, xs []int64, bound uint64) {
	short, cut := bounded(bound)
	shift, mask := m.correction()
	half, frac, step := m.half(), m.frac&15, m.step
	low := uint64(1)<<(short&63) - 1
	buf, pos := s.buf, s.pos
	var p int64
	for i := range xs {
		at := pos >> 3
		if at+8 > uint64(len(buf)) {
			break
		}
		w := binary.LittleEndian.Uint64(buf[at:]) >> (pos & 7)
		u := w & low
		pos += uint64(short)
		if u >= cut {
			u = u<<1 + w>>(short&63)&1 - cut
			pos++
		}
		wasEscaped := u == bound-1
		if wasEscaped {
			if pos > s.end {
				break
			}
			u = s.wide(pos, 64)
			pos += 64
		}
		y := unzigzag(u) + (p+half)>>frac
		xs[i] = m.base + y*int64(m.unit)
		if wasEscaped {
			p = y << frac
		}
		p += step + (y<<frac-p)>>(shift&15)&mask
	}
	s.pos = pos
}

// events decodes a column of runs and reports whether the stream sufficed and
// the runs stayed within the column.
func (m *model) events(s *bitReader, xs []int64, events int, gap, k uint) bool {
	shift, mask := m.correction()
	half := m.half()
	var p int64
	next := func(i int, r int64, wasEscaped bool) {
		y := r + (p+half)>>m.frac
		xs[i] = m.base + y*int64(m.unit)
		if wasEscaped {
			p = y << m.frac
		}
		p += m.step + (y<<m.frac-p)>>shift&mask
	}
	i := 0
	for range events {
		g, _, ok := s.rice(gap)
		if !ok || g >= uint64(len(xs)-i) {
			return false
		}
		for end := i + int(g); i < end; i++ {
			next(i, 0, false)
		}
		u, wasEscaped, ok := s.rice(k)
		if !ok {
			return false
		}
		next(i, unzigzag(u+1), wasEscaped)
		i++
	}
	for ; i < len(xs); i++ {
		next(i, 0, false)
	}
	return true
}
