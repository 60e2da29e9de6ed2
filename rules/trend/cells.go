package trend

import (
	"time"

	"steadyrail/capture"
)

// Cells keeps a whole watch in bounded memory: the readings of each second, or
// each [mostRaw] of them, become their median, and the medians of a cell its
// mean. When the cells are full, neighbours are put together and cells are twice
// as long from then on: of a long watch there are always 256 or more. The same
// readings always give the same cells, with the same work for each on average.
//
// A drift's blocks are cut out of the cells ([BlockDrift]): twelve cells or more to
// each, so that a correlation shorter than a cell, which no cell shows, is short
// against a block as well. [Settle] and [Foretell] take the points as they are.
//
// Use [NewCells].
type Cells struct {
	start capture.Instant // of the cell being filled; 0: nothing was read
	width time.Duration
	cells []Point
	sum   float64 // of the medians of the cell being filled, about shift
	shift float64
	when  int64 // microseconds after start, of the medians
	n     int
	raw   [mostRaw]float64
	rawAt [2]capture.Instant // first and newest of raw
	raws  int
}

const (
	mostCells = 512
	mostRaw   = 64
	firstCell = time.Second
)

// NewCells makes empty cells, of a second at first.
func NewCells() Cells {
	return Cells{width: firstCell, cells: make([]Point, 0, mostCells)}
}

// Reset forgets everything.
func (t *Cells) Reset() {
	t.start, t.width, t.cells, t.n, t.raws, t.sum, t.when = 0, firstCell, t.cells[:0], 0, 0, 0, 0
}

// Add takes a finite reading, in order of time.
func (t *Cells) Add(at capture.Instant, v float64) {
	if t.start == 0 {
		t.start = at
	}
	if t.raws > 0 && (t.raws == mostRaw || at.Sub(t.rawAt[0]) >= firstCell) {
		t.median()
	}
	if at.Sub(t.start) >= t.width {
		t.median()
		t.close()
		steps := at.Sub(t.start) / t.width
		t.start = t.start.Add(steps * t.width)
	}
	if t.raws == 0 {
		t.rawAt[0] = at
	}
	t.raw[t.raws], t.rawAt[1] = v, at
	t.raws++
}

// median takes the raw readings into the cell.
func (t *Cells) median() {
	if t.raws == 0 {
		return
	}
	m := MedianOf(t.raw[:t.raws])
	if t.n == 0 {
		t.shift, t.sum, t.when = m, 0, 0
	}
	t.sum += m - t.shift
	t.when += (t.rawAt[0].Sub(t.start) + t.rawAt[1].Sub(t.rawAt[0])/2).Microseconds()
	t.n++
	t.raws = 0
}

// close ends the cell.
func (t *Cells) close() {
	if t.n == 0 {
		return
	}
	middle := t.start.Add(time.Duration(t.when/int64(t.n)) * time.Microsecond)
	t.cells = append(t.cells, Point{At: middle, V: t.shift + t.sum/float64(t.n)})
	t.n = 0
	if len(t.cells) == mostCells {
		t.double()
	}
}

func (t *Cells) double() {
	for i := 0; i+1 < len(t.cells); i += 2 {
		a, b := t.cells[i], t.cells[i+1]
		t.cells[i/2] = Point{At: a.At.Add(b.At.Sub(a.At) / 2), V: a.V/2 + b.V/2}
	}
	t.cells = t.cells[:len(t.cells)/2]
	t.width *= 2
}

// Points returns the cells that are full, to be read until the next [Cells.Add].
func (t *Cells) Points() []Point { return t.cells }

// Width is how long a cell is by now.
func (t *Cells) Width() time.Duration { return t.width }

// Span is how long the cells reach.
func (t *Cells) Span() time.Duration {
	if len(t.cells) == 0 {
		return 0
	}
	return t.cells[len(t.cells)-1].At.Sub(t.cells[0].At)
}
