package sim

import (
	"sort"

	"steadyrail/capture"
)

// node is something in the model that has a value at every instant.
type node int

// The nodes. Voltages are against 0 V, in volt.
const (
	nSupply node = iota // the supply's terminals
	n24                 // the board's 24 V input
	nIn                 // the stand-in's input pins
	nOut                // the stand-in's output pins
	n5                  // +5 V logic, at TP5
	n12                 // +12 V audio
	nm12                // -12 V audio
	n3                  // +3.3 V DSP
	nPin                // PS2's output pin
	nCase               // the stand-in's case, in degrees Celsius
	nRoom               // the room, in degrees Celsius
	nBead               // the thermometer's bead, in degrees Celsius
	nAmps               // the supply's current, in ampere
	nodes
)

type values [nodes]float64

// segment is one step of the model. Values run straight from a to b.
type segment struct {
	t0, t1 capture.Instant
	a, b   values
}

// history keeps the newest steps, because meters that are asked at the same
// time are answered one after the other: the second looks a little back.
type history struct {
	ring []segment
	next int // where the next one goes
	full bool

	imposed map[node]Steps // what is seen there instead, see [Bench.Impose]
}

// keptSteps is 16 s of the shortest steps, minutes of the long ones.
const keptSteps = 1 << 15

func newHistory() *history { return &history{} }

func (h *history) add(s segment) {
	if !h.full {
		h.ring = append(h.ring, s)
		h.full = len(h.ring) == keptSteps
		return
	}
	h.ring[h.next] = s
	h.next = (h.next + 1) % keptSteps
}

// at returns the i-th oldest segment.
func (h *history) at(i int) *segment { return &h.ring[(h.next+i)%len(h.ring)] }

// mean returns a node's mean over [from, to]. What is no longer or not yet
// known counts as the nearest value that is.
func (h *history) mean(n node, from, to capture.Instant) float64 {
	if s, ok := h.imposed[n]; ok {
		return s.mean(from, to)
	}
	count := len(h.ring)
	if count == 0 {
		return 0
	}
	i := sort.Search(count, func(i int) bool { return h.at(i).t1 > from })
	if i == count {
		return h.at(count - 1).b[n]
	}
	if to <= from || to <= h.at(i).t0 {
		return h.at(i).value(n, from)
	}
	var area, span float64
	for ; i < count && h.at(i).t0 < to; i++ {
		s := h.at(i)
		lo, hi := max(s.t0, from), min(s.t1, to)
		width := float64(hi - lo)
		area += width * (s.value(n, lo) + s.value(n, hi)) / 2
		span += width
	}
	return area / span
}

func (s *segment) value(n node, t capture.Instant) float64 {
	if t <= s.t0 {
		return s.a[n]
	}
	if t >= s.t1 {
		return s.b[n]
	}
	return s.a[n] + (s.b[n]-s.a[n])*float64(t-s.t0)/float64(s.t1-s.t0)
}
