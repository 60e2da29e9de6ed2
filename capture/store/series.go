package store

import (
	"context"
	"fmt"

	"steadyrail/capture"
)

// Series sums up the committed readings of quantity q that lie in any of the
// spans and in [from, to) into at most points buckets of equal width, in order
// and without holes between them. from 0 means the first span's begin; to 0, or
// a span that lasts, the end of the record.
//
// Count, least, greatest, mean and last are exact for the stretch that a bucket
// names. When buckets would be wider than two cells of 5 seconds, their edges
// move outwards to whole cells, so that overviews need not read every reading;
// readings before from may then be in the first bucket, and it says so.
func (j *Job) Series(ctx context.Context, spans []capture.Span, q capture.Quantity, from, to capture.Instant, points int) ([]capture.Bucket, error) {
	if points < 1 {
		return nil, fmt.Errorf("series of job %s: %d points asked for, one is the least", j.id, points)
	}
	newest, _, err := j.r.lastSeal(ctx)
	if err != nil {
		return nil, j.wrap("series of", err)
	}
	from, to = limits(spans, from, to, newest.upto)
	if newest.n == 0 || from >= to {
		return nil, nil
	}
	s := &series{r: j.r, newest: newest, grid: gridOf(from, to, points)}
	s.sums = make([]sum, s.grid.count)
	for _, span := range spans {
		if err := s.span(ctx, span, q); err != nil {
			return nil, j.wrap("series of", err)
		}
	}
	return s.buckets(), nil
}

// limits replaces open ends.
func limits(spans []capture.Span, from, to, upto capture.Instant) (capture.Instant, capture.Instant) {
	if from == 0 {
		for _, s := range spans {
			if from == 0 || s.From < from {
				from = s.From
			}
		}
	}
	if to == 0 || to > upto+1 {
		to = upto + 1
	}
	return from, to
}

// grid is a row of equal buckets.
type grid struct {
	from, width capture.Instant
	count       int
	cells       bool // edges are edges of cells
}

func gridOf(from, to capture.Instant, points int) grid {
	g := grid{from: from, width: max(1, (to-from+capture.Instant(points)-1)/capture.Instant(points))}
	if g.width >= 2*cellWidth {
		g.cells = true
		g.from = floorTo(from, cellWidth)
		for { // the moved edge may ask for one bucket too many
			g.width = ceilTo(g.width, cellWidth)
			if g.from+g.width*capture.Instant(points) >= to {
				break
			}
			g.width += cellWidth
		}
	}
	g.count = int((to - g.from + g.width - 1) / g.width)
	return g
}

func (g grid) end() capture.Instant { return g.from + g.width*capture.Instant(g.count) }

// series is one answer under way.
type series struct {
	r      *reader
	newest seal
	grid   grid
	sums   []sum
}

// span adds what one channel measured during one span.
func (s *series) span(ctx context.Context, span capture.Span, q capture.Quantity) error {
	channel, ok, err := s.channel(ctx, channelKey{span.Channel, q})
	if err != nil || !ok {
		return err
	}
	from, to := max(span.From, s.grid.from), s.grid.end()
	if span.To != 0 {
		to = min(to, span.To)
	}
	to = min(to, s.newest.upto+1)
	whole, end := ceilTo(from, cellWidth), floorTo(min(to, s.newest.upto), cellWidth)
	if !s.grid.cells || whole >= end {
		return s.raw(ctx, channel, from, to)
	}
	if err := s.raw(ctx, channel, from, whole); err != nil {
		return err
	}
	if err := s.whole(ctx, channel, whole, end); err != nil {
		return err
	}
	return s.raw(ctx, channel, end, to)
}

// channel finds the number of a channel; it has none without readings.
func (s *series) channel(ctx context.Context, want channelKey) (int64, bool, error) {
	s.r.mu.Lock()
	defer s.r.mu.Unlock()
	for range 2 {
		for id, key := range s.r.channels {
			if key == want {
				return id, true, nil
			}
		}
		fresh, err := readChannels(ctx, s.r)
		if err != nil {
			return 0, false, err
		}
		if len(fresh) == len(s.r.channels) {
			break
		}
		s.r.channels = fresh
	}
	return 0, false, nil
}

// whole adds the cells that begin in [from, to).
func (s *series) whole(ctx context.Context, channel int64, from, to capture.Instant) error {
	const query = "SELECT start, n, bad, min, max, sum, last, last_at FROM cell WHERE channel = ? AND start >= ? AND start < ? ORDER BY start"
	return s.r.each(ctx, query, []any{channel, int64(from), int64(to)}, func(scan func(...any) error) error {
		var start capture.Instant
		var c sum
		if err := scan(&start, &c.n, &c.bad, (*exact)(&c.min), (*exact)(&c.max), (*exact)(&c.total), (*exact)(&c.last), &c.lastAt); err != nil {
			return err
		}
		s.sums[(start-s.grid.from)/s.grid.width].merge(c)
		return nil
	})
}

// raw adds the single readings answered in [from, to).
func (s *series) raw(ctx context.Context, channel int64, from, to capture.Instant) error {
	if from >= to {
		return nil
	}
	begin, err := s.r.commitAt(ctx, from, s.newest)
	if err != nil {
		return err
	}
	end, err := s.r.commitAt(ctx, to, s.newest)
	if err != nil {
		return err
	}
	first, last := begin.first, end.last
	const query = "SELECT seq, at, value, flags FROM reading WHERE seq BETWEEN ? AND ? AND channel = ? AND at >= ? AND at < ? ORDER BY seq"
	for ; first <= last; first += 4 * sliceWidth {
		err := s.r.each(ctx, query, []any{first, min(first+4*sliceWidth-1, last), channel, int64(from), int64(to)}, func(scan func(...any) error) error {
			var seq int64
			var at capture.Instant
			var value exact
			var flags capture.Flags
			if err := scan(&seq, &at, &value, &flags); err != nil {
				return err
			}
			s.sums[(at-s.grid.from)/s.grid.width].add(seq, at, float64(value), flags)
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func (s *series) buckets() []capture.Bucket {
	out := make([]capture.Bucket, len(s.sums))
	for i, c := range s.sums {
		b := capture.Bucket{From: s.grid.from + s.grid.width*capture.Instant(i), N: int(c.n), Bad: int(c.bad)}
		b.To = b.From + s.grid.width
		if c.n > 0 {
			b.Min, b.Max, b.Mean, b.Last = c.min, c.max, c.total/float64(c.n), c.last
		}
		out[i] = b
	}
	return out
}
