package chart

import (
	"math"
	"unicode/utf8"

	"steadyrail/capture"
)

// band is a rail's limits by magnitude, and how the frame stands around them.
type band struct {
	sign              float64 // -1 for a negative rail
	low, target, high float64 // by magnitude
	hasLow, hasHigh   bool
	reach             float64 // half the band: the greater distance from the target to an edge
	decimals          int     // digits that print the edges as they were declared
}

func bandOf(r capture.Rail) band {
	s := r.Sized(0)
	b := band{sign: 1, low: s.Bounds.Low, target: s.Target, high: s.Bounds.High}
	if r.Nominal < 0 {
		b.sign = -1
	}
	// The zero value of bounds declares nothing; it is no band of no width.
	declared := b.low < b.high
	b.hasLow, b.hasHigh = declared && !math.IsInf(b.low, 0), declared && !math.IsInf(b.high, 0)
	if b.hasLow {
		b.reach = b.target - b.low
	}
	if b.hasHigh {
		b.reach = max(b.reach, b.high-b.target)
	}
	if b.reach <= 0 {
		b.reach = max(math.Abs(r.Nominal)/10, 0.001)
	}
	b.decimals = b.digits()
	return b
}

// digits finds the fewest decimals that print target and edges truly, two to
// four.
func (b band) digits() int {
	for d := 2; d < 4; d++ {
		scale, ok := math.Pow(10, float64(d)), true
		for _, v := range b.edges() {
			ok = ok && math.Abs(math.Round(v*scale)/scale-v) < 1e-7
		}
		if ok {
			return d
		}
	}
	return 4
}

// edges lists target and declared edges.
func (b band) edges() []float64 {
	out := []float64{b.target}
	if b.hasLow {
		out = append(out, b.low)
	}
	if b.hasHigh {
		out = append(out, b.high)
	}
	return out
}

// figure prints an edge with its sign.
func (b band) figure(v float64) string {
	return capture.Figure(b.sign*v, math.Pow(10, -float64(b.decimals)))
}

// room is the width of the longest figure of the band, in heights of its letters;
// that of the target is bold.
func (b band) room() float64 {
	most := 0
	for _, v := range b.edges() {
		most = max(most, utf8.RuneCountInString(b.figure(v)))
	}
	return float64(most) * 0.62
}

// frame is the range that keeps the band in the middle.
func (b band) frame() (lo, hi float64) { return b.target - 1.9*b.reach, b.target + 1.9*b.reach }

// out reports whether v lies outside a declared edge.
func (b band) out(v float64) bool { return b.below(v) || b.above(v) }

func (b band) below(v float64) bool { return b.hasLow && v < b.low }
func (b band) above(v float64) bool { return b.hasHigh && v > b.high }
