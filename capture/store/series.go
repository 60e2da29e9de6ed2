package store

import (
	"context"
	"fmt"
	"math/bits"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
)

// Series sums up the committed readings of quantity q that lie in any of the
// spans and in [from, to) into at most points buckets of equal width, in order
// and without holes between them. from 0 means the first span's begin; to 0, or
// a span that lasts, the end of the record.
//
// Count, least, greatest, mean and last are exact for the stretch that a bucket
// names. When buckets would be wider than three seconds, their edges move outwards
// to whole powers of two of a second, so that overviews need not read every
// reading; readings before from may then be in the first bucket, and it says so. The
// last bucket is as wide as the others, and may end behind to. Spans of one channel
// must not overlap.
func (j *Job) Series(ctx context.Context, spans []capture.Span, q capture.Quantity, from, to capture.Instant, points int) ([]capture.Bucket, error) {
	if points < 1 {
		return nil, fmt.Errorf("series of job %s: %d points asked for, one is the least", j.id, points)
	}
	snap, err := j.r.now(ctx)
	if err != nil {
		return nil, j.wrap("series of", err)
	}
	from, to = limits(spans, from, to, snap.newest.upto)
	if snap.newest.n == 0 || from >= to {
		return nil, nil
	}
	s := &series{r: j.r, snap: snap, grid: gridOf(from, to, points)}
	s.sums = make([]sum, s.grid.count)
	for _, span := range spans {
		if err := s.span(ctx, span, q); err != nil {
			return nil, j.wrap("series of", err)
		}
	}
	return s.buckets(), nil
}

// limits replaces open ends, and what lies further away than any instant can.
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
	return max(from, -farthest), to
}

// grid is a row of equal buckets.
type grid struct {
	from, width capture.Instant
	count       int
	unit        capture.Instant // edges are multiples of it; 1: of nothing
}

// finest is how many cells the narrowest bucket has that is made of cells.
const finest = 3

func gridOf(from, to capture.Instant, points int) grid {
	g := grid{from: from, width: max(1, (to-from+capture.Instant(points)-1)/capture.Instant(points)), unit: 1}
	if g.width >= finest*second {
		g.unit = second << (bits.Len64(uint64(g.width/(finest*second))) - 1)
		g.from = floorTo(from, g.unit)
		g.width = g.unit * ((g.width + g.unit - 1) / g.unit)
		for g.from+g.width*capture.Instant(points) < to { // the moved edge asks for more
			g.width += g.unit
		}
	}
	g.count = int((to - g.from + g.width - 1) / g.width)
	return g
}

func (g grid) end() capture.Instant { return g.from + g.width*capture.Instant(g.count) }

// series is one answer under way.
type series struct {
	r       *reader
	snap    *snapshot
	grid    grid
	sums    []sum
	decoder block.Decoder
	points  []block.Point
}

// span adds what one channel measured during one span.
func (s *series) span(ctx context.Context, span capture.Span, q capture.Quantity) error {
	channel, ok := s.snap.find(channelKey{span.Channel, q})
	if !ok {
		return nil
	}
	from, to := max(span.From, s.grid.from), s.grid.end()
	if span.To != 0 {
		to = min(to, span.To)
	}
	if from >= to {
		return nil
	}
	f := s.snap.filling[channel]
	k, err := s.r.firstBlock(ctx, channel, f.blocks, from)
	if err != nil {
		return err
	}
	if err := s.blocks(ctx, blockNumber(channel, k), blockNumber(channel, f.blocks), from, to); err != nil {
		return err
	}
	for i := range f.rows {
		r := &f.rows[i]
		s.add(block.Point{At: r.At, Value: r.Value, Flags: r.Flags}, from, to)
	}
	return nil
}

// How many summaries are read at once: few at first, for a minute lies in one or
// two blocks; at last so many that one read is still short.
const (
	fewBriefs  = 4
	mostBriefs = 512
)

// blocks adds the blocks first to end-1 as far as they lie in [from, to).
func (s *series) blocks(ctx context.Context, first, end int64, from, to capture.Instant) error {
	atOnce := fewBriefs
	for over := false; first < end && !over; atOnce = min(2*atOnce, mostBriefs) {
		var list []brief
		const query = "SELECT id, base, n, first_at, last_at, data FROM brief WHERE id >= ? AND id < ? ORDER BY id LIMIT ?"
		err := each(ctx, s.r.db, query, []any{first, end, atOnce}, func(scan func(...any) error) error {
			var b brief
			err := scan(&b.id, &b.base, &b.n, &b.first, &b.last, &b.data)
			list = append(list, b)
			return err
		})
		if err != nil {
			return err
		}
		if len(list) == 0 {
			return fmt.Errorf("%w: the summary of block %d is missing", block.ErrCorrupt, first)
		}
		for i := range list {
			if list[i].id != first+int64(i) {
				return fmt.Errorf("%w: the summary of block %d is missing", block.ErrCorrupt, first+int64(i))
			}
			if over = list[i].first >= to; over {
				break
			}
			if err := s.block(ctx, &list[i], from, to); err != nil {
				return err
			}
		}
		first = list[len(list)-1].id + 1
	}
	return nil
}

// block adds one block: its cells, when each lies in one bucket and all in the
// span, or else every reading.
func (s *series) block(ctx context.Context, b *brief, from, to capture.Instant) error {
	if b.first >= from && b.last < to && s.grid.unit%b.width() == 0 {
		return b.cells(func(c cell) { s.sums[(c.start-s.grid.from)/s.grid.width].merge(c.sum) })
	}
	data, err := s.r.block(ctx, b.id)
	if err != nil {
		return err
	}
	if s.points, err = s.decoder.Points(s.points[:0], data); err != nil {
		return fmt.Errorf("block %d of channel %d: %w", b.k(), b.id>>32, err)
	}
	for i := range s.points {
		s.add(s.points[i], from, to)
	}
	return nil
}

func (s *series) add(p block.Point, from, to capture.Instant) {
	if p.At >= from && p.At < to {
		s.sums[(p.At-s.grid.from)/s.grid.width].add(p.At, p.Value, p.Flags)
	}
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
