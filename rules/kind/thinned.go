package kind

import (
	"time"

	"steadyrail/capture"
	"steadyrail/rules/trend"
)

// thinned keeps a whole watch in bounded memory: the readings of each second, or
// each [thinnedRaw] of them, become their median, and the medians of a cell its
// mean. When the cells are full, neighbours are put together and cells are twice
// as long from then on. The same readings always give the same cells.
type thinned struct {
	start capture.Instant // of the cell being filled; 0: nothing was read
	width time.Duration
	cells []trend.Point
	sum   float64 // of the medians of the cell being filled, about shift
	shift float64
	when  int64 // microseconds after start, of the medians
	n     int
	raw   [thinnedRaw]float64
	rawAt [2]capture.Instant // first and newest of raw
	raws  int
}

const (
	thinnedCells = 512
	thinnedRaw   = 64
	thinnedBase  = time.Second
)

func newThinned() thinned {
	return thinned{width: thinnedBase, cells: make([]trend.Point, 0, thinnedCells)}
}

func (t *thinned) reset() {
	t.start, t.width, t.cells, t.n, t.raws, t.sum, t.when = 0, thinnedBase, t.cells[:0], 0, 0, 0, 0
}

func (t *thinned) add(at capture.Instant, v float64) {
	if t.start == 0 {
		t.start = at
	}
	if t.raws > 0 && (t.raws == thinnedRaw || at.Sub(t.rawAt[0]) >= thinnedBase) {
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
func (t *thinned) median() {
	if t.raws == 0 {
		return
	}
	m := trend.MedianOf(t.raw[:t.raws])
	if t.n == 0 {
		t.shift, t.sum, t.when = m, 0, 0
	}
	t.sum += m - t.shift
	t.when += (t.rawAt[0].Sub(t.start) + t.rawAt[1].Sub(t.rawAt[0])/2).Microseconds()
	t.n++
	t.raws = 0
}

// close ends the cell.
func (t *thinned) close() {
	if t.n == 0 {
		return
	}
	middle := t.start.Add(time.Duration(t.when/int64(t.n)) * time.Microsecond)
	t.cells = append(t.cells, trend.Point{At: middle, V: t.shift + t.sum/float64(t.n)})
	t.n = 0
	if len(t.cells) == thinnedCells {
		t.double()
	}
}

func (t *thinned) double() {
	for i := 0; i+1 < len(t.cells); i += 2 {
		a, b := t.cells[i], t.cells[i+1]
		t.cells[i/2] = trend.Point{At: a.At.Add(b.At.Sub(a.At) / 2), V: a.V/2 + b.V/2}
	}
	t.cells = t.cells[:len(t.cells)/2]
	t.width *= 2
}

// span is how long the cells reach.
func (t *thinned) span() time.Duration {
	if len(t.cells) == 0 {
		return 0
	}
	return t.cells[len(t.cells)-1].At.Sub(t.cells[0].At)
}

// pace says when a slow judgement is due anew: every 10 s, and as a watch grows
// long whenever it has grown by a thirty-second part, so that the work for each
// reading does not grow with it.
type pace struct{ next time.Duration }

func (p *pace) due(span time.Duration) bool {
	if span < p.next {
		return false
	}
	p.next = span + max(10*time.Second, span/32)
	return true
}
