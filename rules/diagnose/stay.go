package diagnose

import (
	"math"
	"time"

	"steadyrail/capture"
)

// stay is what one channel came to while its probe stood on one place and
// nothing changed on the board.
type stay struct {
	channel  capture.ChannelID
	quantity capture.Quantity
	where    capture.Placement
	from     capture.Instant
	accuracy []capture.Accuracy
	lead     float64 // ohm, taken off
	nulled   bool
	charged  float64 // volt that were seen on the rail before, unpowered
	live     bool
	hot      bool
	inject   bool
	typed    bool
	reversed bool   // with the leads exchanged
	back     string // rail that it was read on then

	run     steadily
	charge  charge  // of ohms
	settled bool    // the newest run, or one before it, was steady
	value   float64 // mean of that run
	sd      float64
	n       int
	like    capture.Reading // its newest reading
	at      capture.Instant
	seen    int  // good readings
	open    bool // above the range, and it stayed so
	over    int
	falls   int // from more than half the nominal to nearly nothing
	high    bool
	first   float64 // of the run of all good readings
}

// steadily is a run of readings that agree within what hand-held tips scatter,
// 5 % or three counts (common practice), of which one that does not agree with
// all of them begins a new one.
type steadily struct {
	from, to capture.Instant
	low, top float64
	n        int
	mean, m2 float64
}

const (
	liveLeast   = 2 // volts under power charge nothing: two that agree are enough
	steadyLeast = 3 // of a part by itself these are enough: no rail's capacitors charge
	steadyFor   = 600 * time.Millisecond
)

func (r *steadily) add(at capture.Instant, v, resolution, floor float64) {
	low, top := min(r.low, v), max(r.top, v)
	agree := max(floor, float64(0.05*math.Abs(v)), float64(3*resolution))
	if r.n == 0 || top-low > agree {
		*r = steadily{from: at, to: at, low: v, top: v, n: 1, mean: v}
		return
	}
	r.low, r.top, r.to, r.n = low, top, at, r.n+1
	d := v - r.mean
	r.mean += d / float64(r.n)
	r.m2 += float64(d * (v - r.mean))
}

func (r *steadily) steady() bool { return r.n >= steadyLeast && r.to.Sub(r.from) >= steadyFor }

func (r *steadily) sd() float64 {
	if r.n < 2 {
		return 0
	}
	return math.Sqrt(r.m2 / float64(r.n-1))
}

// agreeFloor is how far readings may lie apart whatever they are: tips scatter
// by some ten milliohm; of an injection's drop the contacts make microvolts.
func (s *stay) agreeFloor() float64 {
	if s.inject {
		return 20e-6
	}
	return 0.05
}

func (s *stay) add(at capture.Instant, r capture.Reading) {
	if r.Flags.Has(capture.OverRange) {
		s.over++
		if s.quantity == capture.Resistance && (s.typed || s.over >= steadyLeast && s.where.Hold == capture.Clipped) {
			s.open, s.at, s.like = true, at, r
		}
		return
	}
	if !r.HasValue() {
		return
	}
	s.over = 0
	v := r.Value
	if s.quantity == capture.Resistance {
		v -= s.lead
		s.charge.add(at, v, r.Range)
	}
	// By when the meter looked, as the rule and the walk judge it: the records of a
	// busy computer come unevenly.
	s.run.add(r.Sampled(at), v, r.Resolution, s.agreeFloor())
	s.fall(v)
	s.seen++
	if s.typed || s.run.steady() || s.live && s.run.n >= liveLeast || s.where.Rail == "" && s.run.n >= steadyLeast {
		s.settled, s.open = true, false
		s.value, s.sd, s.n, s.like, s.at = s.run.mean, s.run.sd(), s.run.n, r, at
	}
}

// fall counts how often it went from up to nearly nothing, without knowing the
// rail: to under a tenth of the highest that was seen.
func (s *stay) fall(v float64) {
	size := math.Abs(v)
	s.first = max(s.first, size)
	switch {
	case size > s.first/2 && s.first > 0.5:
		s.high = true
	case s.high && size < s.first/10:
		s.high = false
		s.falls++
	}
}

// restarts is how many falls during one stay are a restart train.
const restarts = 3

// Contact scatter of one touch, in ohm, as a standard deviation: hand-held tips
// and clips (common practice: some ten milliohm, some milliohm).
const (
	touchedScatter = 0.020
	clippedScatter = 0.003
	leadDoubt      = 0.003 // of a nulled pair
	leadUnknown    = 0.1   // of leads that were not nulled (common practice: 0.1 to 0.5 ohm)
	gainUnknown    = 0.01  // of a meter without a statement, part of the reading
)

// gain is the standard uncertainty of the meter's gain at a reading, as a part
// of it: the statement's limits are taken as a rectangle (GUM 4.3.7).
func (s *stay) gain() float64 {
	for _, a := range s.accuracy {
		if a.Range == s.like.Range || len(s.accuracy) == 1 || a.Range >= s.value {
			return max(a.OfReading, 1e-6) / math.Sqrt(3)
		}
	}
	return gainUnknown
}
