package trend

import (
	"math"
	"time"

	"steadyrail/capture"
)

// Blocks thins a stream of readings to medians of equal blocks of time, with
// the same work for a reading on average and the same memory however long it
// goes on: when the blocks are full, each two become one twice as long. Its
// points serve [BlockDrift], [Settle] and [Foretell]; [Blocks.Drift] knows the
// correlation time of the readings themselves, which the points no longer show.
//
// A block that was never merged is the median of its readings, exactly up to 64
// of them, else to the error of a [Sketch]; a merged one is the mean of the
// medians of its parts, weighted by their readings. The same readings in the
// same order give the same blocks.
type Blocks struct {
	width   time.Duration
	start   capture.Instant
	last    capture.Instant
	closed  []blockMedian // at most most, in order of time
	most    int
	open    int64 // number of the block being filled
	values  *Sketch
	seconds float64 // mean time of the open block
	line    runningLine
}

// blockMedian stands at the mean time of its readings, in seconds since start.
type blockMedian struct {
	nr      int64
	n, x, y float64
}

// exactInBlock is the buffer of a block's median.
const exactInBlock = 64

// NewBlocks makes empty blocks, first of the given width (at least 1 µs), at
// most so many (at least 2, made even): of 240 there are always 120 or more
// after the first doubling.
func NewBlocks(width time.Duration, most int) *Blocks {
	most = max(2, most+most%2)
	return &Blocks{
		width: max(width, time.Microsecond), most: most,
		closed: make([]blockMedian, 0, most), values: NewSketch(exactInBlock),
	}
}

// Add takes a reading; false: it was older than the last or not finite, and is
// not counted.
func (b *Blocks) Add(at capture.Instant, v float64) bool {
	if b.line.n == 0 {
		b.start, b.last = at, at
	}
	if at < b.last || !finite(v) {
		return false
	}
	nr := b.number(at)
	for nr >= int64(b.most) {
		b.double()
		nr = b.number(at)
	}
	if nr != b.open {
		b.close()
		b.open = nr
	}
	x := at.Sub(b.start).Seconds()
	b.values.Add(v)
	b.seconds += (x - b.seconds) / float64(b.values.N())
	b.line.add(x, v)
	b.last = at
	return true
}

func (b *Blocks) number(at capture.Instant) int64 { return int64(at.Sub(b.start) / b.width) }

// close puts the open block behind the others.
func (b *Blocks) close() {
	if b.values.N() == 0 {
		return
	}
	b.put(blockMedian{b.open, float64(b.values.N()), b.seconds, b.values.Quantile(0.5)})
	b.values.Reset()
	b.seconds = 0
}

// put appends a block, or merges it into the last if that has its number.
func (b *Blocks) put(m blockMedian) { b.closed = putInto(b.closed, m) }

func putInto(blocks []blockMedian, m blockMedian) []blockMedian {
	if len(blocks) == 0 || blocks[len(blocks)-1].nr != m.nr {
		return append(blocks, m)
	}
	old := &blocks[len(blocks)-1]
	n := old.n + m.n
	share := m.n / n
	old.x += float64((m.x - old.x) * share)
	old.y += float64((m.y - old.y) * share)
	old.n = n
	return blocks
}

// double makes one block of each two, in place.
func (b *Blocks) double() {
	b.width *= 2
	b.closed = pool(b.closed[:0], b.closed, 2)
	b.open /= 2
}

// pool appends blocks of k numbers each to into, which may be the head of from.
func pool(into, from []blockMedian, k int64) []blockMedian {
	for _, m := range from {
		m.nr /= k
		into = putInto(into, m)
	}
	return into
}

// Len returns how many blocks are closed.
func (b *Blocks) Len() int { return len(b.closed) }

// N returns how many readings were taken.
func (b *Blocks) N() int { return b.line.n }

// Width returns how long a block is by now.
func (b *Blocks) Width() time.Duration { return b.width }

// Span returns the time from the first reading to the last.
func (b *Blocks) Span() time.Duration { return b.last.Sub(b.start) }

// AppendPoints appends the closed blocks, in order of time: the open one, whose
// median would be worth less than theirs, is not among them.
func (b *Blocks) AppendPoints(to []Point) []Point {
	for _, m := range b.closed {
		to = append(to, Point{At: b.start.Add(time.Duration(math.Round(m.x * float64(time.Second)))), V: m.y})
	}
	return to
}

// Reset forgets everything and goes back to the given width.
func (b *Blocks) Reset(width time.Duration) {
	b.width, b.closed, b.open, b.seconds = max(width, time.Microsecond), b.closed[:0], 0, 0
	b.values.Reset()
	b.line = runningLine{}
}

// mostForSlopes bounds the blocks between which slopes are taken: 1,770 pairs.
const mostForSlopes = 60

// Drift estimates the drift as [BlockDrift] does, from blocks made as long as
// the correlation time of the readings asks, where enough remain of them.
func (b *Blocks) Drift(resolution float64) Drift {
	tau := b.line.correlationTime()
	n := int64(len(b.closed))
	k := max(1, (n+mostForSlopes-1)/mostForSlopes)
	if needed := int64((BlocksPerCorrTime*tau + b.width - 1) / b.width); needed > k && n/needed >= LeastBlocks {
		k = needed
	}
	var x, y []float64
	for _, m := range pool(nil, b.closed, k) {
		x, y = append(x, m.x), append(y, m.y)
	}
	d := driftOf(x, y, b.Span(), resolution)
	d.believe(b.width*time.Duration(k), tau)
	return d
}
