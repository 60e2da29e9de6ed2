package store

import (
	"time"

	"steadyrail/capture"
)

// cellWidth is the span that a row of table "cell" sums up. It is part of the
// file format.
const cellWidth = capture.Instant(5 * time.Second / time.Microsecond)

// floorTo returns the last multiple of step at or before t.
func floorTo(t, step capture.Instant) capture.Instant {
	r := t % step
	if r < 0 {
		r += step
	}
	return t - r
}

// ceilTo returns the first multiple of step at or after t.
func ceilTo(t, step capture.Instant) capture.Instant {
	f := floorTo(t, step)
	if f < t {
		f += step
	}
	return f
}

// sum gathers readings of one channel: a cell, or a bucket of a series.
type sum struct {
	n, bad          int64
	min, max, total float64
	last            float64
	lastAt          capture.Instant
	lastSeq         int64 // of the last reading, with or without a value
}

// add takes one more reading, in order of seq.
func (s *sum) add(seq int64, at capture.Instant, value float64, flags capture.Flags) {
	s.lastSeq = seq
	if flags.Has(capture.NoValue) || value != value {
		s.bad++
		return
	}
	s.merge(sum{n: 1, min: value, max: value, total: value, last: value, lastAt: at, lastSeq: seq})
}

// merge adds what another sum has gathered.
func (s *sum) merge(o sum) {
	s.bad += o.bad
	s.lastSeq = max(s.lastSeq, o.lastSeq)
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

// openCell is a cell whose time is not over.
type openCell struct {
	start capture.Instant
	sum
}

// cells gathers the open cells, by channel number.
type cells map[int64]openCell

// add takes a reading and returns the cell that it ends, if any.
func (c cells) add(channel, seq int64, at capture.Instant, value float64, flags capture.Flags) (ended openCell, ok bool) {
	start := floorTo(at, cellWidth)
	cur, have := c[channel]
	if have && cur.start != start {
		ended, ok = cur, true
		have = false
	}
	if !have {
		cur = openCell{start: start}
	}
	cur.add(seq, at, value, flags)
	c[channel] = cur
	return ended, ok
}

// over takes out the cells whose time is over at the instant upto, before
// which no more readings can come.
func (c cells) over(upto capture.Instant) map[int64]openCell {
	out := map[int64]openCell{}
	for channel, cur := range c {
		if cur.start+cellWidth <= upto {
			out[channel] = cur
			delete(c, channel)
		}
	}
	return out
}
