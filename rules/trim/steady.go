package trim

import (
	"math"
	"slices"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/trend"
)

const (
	binFor    = 150 * time.Millisecond // quicker readings are put together: a hand is slower
	leastBins = 6                      // and leastSpan: a steady stretch
	mostBins  = 16
	leastSpan = time.Second
	breaks    = 5.0              // times the noise: a reading that is elsewhere
	offBins   = 2                // so many running end a stretch
	wilder    = 3.0              // times the noise known so far, and no more, is still noise
	unrestFor = 15 * time.Second // after that it has become noisier
)

// sample is the mean of the readings of a bin.
type sample struct {
	at capture.Instant
	v  float64
}

// stretch is a steady stretch as its newest readings tell it.
type stretch struct {
	from, to capture.Instant
	mean, sd float64
	n        int
	eff      float64
}

// tracker tells steady stretches from movement. It judges by what changed
// between the halves of its window, held against the scatter of neighbours,
// which a step does not widen: slope alone would call a slow turn steady.
type tracker struct {
	floor  float64 // the least step that counts, volt
	noise  float64 // of a bin, learned in steady windows
	bin    []sample
	ring   []sample
	steady bool
	from   capture.Instant
	lost   capture.Instant // the newest steadiness ended
}

func (t *tracker) forget() { t.bin, t.ring, t.steady = t.bin[:0], t.ring[:0], false }

// event is what a reading made of the state.
type event uint8

const (
	same event = iota
	began
	ended
)

// add takes a reading. With ended comes the stretch that is over, with began the
// new one.
func (t *tracker) add(at capture.Instant, v float64) (event, stretch) {
	if len(t.bin) > 0 && at.Sub(t.bin[0].at) >= binFor {
		e, s := t.push(binned(t.bin))
		t.bin = append(t.bin[:0], sample{at, v})
		return e, s
	}
	t.bin = append(t.bin, sample{at, v})
	return same, stretch{}
}

func binned(b []sample) sample {
	sum := 0.0
	for _, s := range b {
		sum += s.v - b[0].v
	}
	return sample{b[len(b)-1].at, b[0].v + sum/float64(len(b))}
}

func (t *tracker) push(s sample) (event, stretch) {
	t.ring = append(t.ring, s)
	if len(t.ring) > mostBins {
		t.ring = append(t.ring[:0], t.ring[1:]...)
	}
	switch {
	case t.steady && t.left():
		was := t.stretch(t.ring[:len(t.ring)-offBins])
		t.ring = append(t.ring[:0], t.ring[len(t.ring)-offBins:]...)
		t.steady, t.lost = false, s.at
		return ended, was
	case !t.steady && t.still():
		t.steady, t.from = true, t.ring[0].at
		return began, t.stretch(t.ring)
	}
	return same, stretch{}
}

// left reports whether the newest bins are elsewhere, all on one side.
func (t *tracker) left() bool {
	n := len(t.ring) - offBins
	if n < leastBins-offBins {
		return false
	}
	m, limit, side := mean(t.ring[:n]), max(t.floor, float64(breaks*t.noise)), 0.0
	for _, s := range t.ring[n:] {
		d := s.v - m
		if math.Abs(d) <= limit || side != 0 && (d > 0) != (side > 0) {
			return false
		}
		side = d
	}
	return true
}

// still reports whether the newest window is steady, and learns its noise.
func (t *tracker) still() bool {
	for n := leastBins; n <= len(t.ring); n++ {
		w := t.ring[len(t.ring)-n:]
		if w[n-1].at.Sub(w[0].at) < leastSpan {
			continue
		}
		if !t.calm(w) {
			return false
		}
		t.ring = append(t.ring[:0], w...)
		return true
	}
	return false
}

func (t *tracker) calm(w []sample) bool {
	sigma := max(scatter(w), t.noise/2)
	if known := max(float64(wilder*t.noise), t.floor/4); t.noise > 0 && sigma > known && w[len(w)-1].at.Sub(t.lost) < unrestFor {
		return false // a screw that turns scatters, a meter does so no more than before
	}
	half := len(w) / 2
	change := math.Abs(mean(w[half:]) - mean(w[:half]))
	if change > max(t.floor/2, float64(2.5*sigma*math.Sqrt(4/float64(len(w))))) {
		return false
	}
	lo, hi := w[0].v, w[0].v
	for _, s := range w {
		lo, hi = min(lo, s.v), max(hi, s.v)
	}
	if hi-lo > max(t.floor, float64(breaks*sigma)) {
		return false
	}
	t.noise = sigma
	return true
}

// scatter is the standard deviation that the median change between neighbours
// tells: 0.6745 of a normal deviation times the root of two. One step in the
// window leaves it as it is.
func scatter(w []sample) float64 {
	d := make([]float64, 0, mostBins)
	for i := 1; i < len(w); i++ {
		d = append(d, math.Abs(w[i].v-w[i-1].v))
	}
	slices.Sort(d)
	return d[len(d)/2] / (0.6745 * math.Sqrt2)
}

func mean(w []sample) float64 { return binned(w).v }

func (t *tracker) stretch(w []sample) stretch {
	if len(w) == 0 {
		return stretch{}
	}
	var m trend.Moments
	for _, s := range w {
		m.Add(s.v)
	}
	return stretch{from: t.from, to: w[len(w)-1].at, mean: m.Mean(), sd: m.SD(), n: m.N(), eff: m.Effective()}
}

// now is the stretch that lasts.
func (t *tracker) now() (stretch, bool) { return t.stretch(t.ring), t.steady && len(t.ring) > 0 }
