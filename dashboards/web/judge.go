package web

import (
	"math"

	"steadyrail/capture"
)

// tone is what a lane looks like: word, shape and colour go together.
type tone string

// The tones. The zero value is not used.
const (
	inside  tone = "inside"
	doubt   tone = "doubt"
	low     tone = "low"
	high    tone = "high"
	silent  tone = "silent"
	nowhere tone = "nowhere" // nothing stands on the rail: no trouble, no data
)

// Class returns the colour's class.
func (t tone) Class() string {
	switch t {
	case inside:
		return "is-inside"
	case doubt:
		return "is-doubt"
	case low, high:
		return "is-outside"
	}
	return "is-silent"
}

// Mark returns the shape's symbol in the sprite.
func (t tone) Mark() string {
	switch t {
	case inside:
		return "m-inside"
	case doubt:
		return "m-doubt"
	case low, high:
		return "m-wedge"
	}
	return "m-silent"
}

// Turn returns how many degrees the shape is turned where value lies across.
// The wedge points home: the way the reading has to go.
func (t tone) Turn() int {
	if t == high {
		return 180
	}
	return 0
}

// Bad reports whether the lane is in trouble.
func (t tone) Bad() bool { return t == low || t == high }

// judge says what one reading means on the screen. It goes by magnitude, so
// that -9 V on a -12 V rail is low. Within the expanded uncertainty of an edge
// nobody can say (guard band w = U, ILAC-G8:09/2019). The recorded verdict is
// the engine's, over its window; this is about the number that stands beside.
func judge(r capture.Rail, value, uncertainty float64) tone {
	s := r.Sized(value)
	for _, edge := range []float64{s.Bounds.Low, s.Bounds.High} {
		if math.Abs(s.Value-edge) < uncertainty {
			return doubt
		}
	}
	switch {
	case s.Value < s.Bounds.Low:
		return low
	case s.Value > s.Bounds.High:
		return high
	}
	return inside
}

// deviation returns where a reading lies: -1 at the low edge, 0 on target, 1
// at the high edge. An open side is drawn with [capture.Rail.HalfBand].
func deviation(r capture.Rail, value float64) float64 {
	s := r.Sized(value)
	half := s.Bounds.High - s.Target
	if s.Value < s.Target {
		half = s.Target - s.Bounds.Low
	}
	if math.IsInf(half, 0) || half <= 0 {
		half = r.HalfBand()
	}
	if half <= 0 {
		return 0
	}
	return (s.Value - s.Target) / half
}

// verdictWords says the judgement with figures of the reading's own digits.
func verdictWords(r capture.Rail, t tone, value, uncertainty, resolution float64) (word, more string) {
	s := r.Sized(value)
	volts := func(v float64) string { return withUnit(capture.Figure(v, resolution), "V") }
	switch t {
	case low:
		resolution = r.DistanceResolution(resolution)
		return "Low by" + nbsp + volts(s.Bounds.Low-s.Value), "limit " + volts(sign(r)*s.Bounds.Low)
	case high:
		resolution = r.DistanceResolution(resolution)
		return "High by" + nbsp + volts(s.Value-s.Bounds.High), "limit " + volts(sign(r)*s.Bounds.High)
	case doubt:
		edge, _ := s.Bounds.Edge(s.Value)
		return "Cannot tell", volts(math.Abs(s.Value-edge)) + " from the edge, meter" + nbsp + "±" + nbsp + volts(uncertainty)
	case inside:
		return "Inside", offTarget(s, resolution)
	}
	return "No reading", ""
}

// offTarget says how far inside readings lie from the target.
func offTarget(s capture.Sized, resolution float64) string {
	off := s.Value - s.Target
	words := capture.Figure(math.Abs(off), resolution)
	if isZero(words) {
		return "on target"
	}
	if off < 0 {
		return withUnit(words, "V") + " low of target"
	}
	return withUnit(words, "V") + " high of target"
}

// fedBelow is the part of its nominal below which a rail is off, or fed from
// elsewhere, and no trimmer will mend it (common practice).
const fedBelow = 0.6

// order is what a person with a screwdriver must know: two short lines.
func order(r capture.Rail, value, uncertainty, resolution float64) (what, then string) {
	s := r.Sized(value)
	off := s.Value - s.Target
	words := withUnit(capture.Figure(math.Abs(off), max(resolution, twoDigits(r))), "V")
	switch judge(r, value, uncertainty) {
	case inside:
		if isZero(capture.Figure(math.Abs(off), max(resolution, twoDigits(r)))) {
			return "On target:", "leave it"
		}
		if off < 0 {
			return "Inside, " + words + " low:", "let it settle"
		}
		return "Inside, " + words + " high:", "let it settle"
	case doubt:
		return "Cannot tell:", "too near the edge"
	}
	switch {
	case s.Value < float64(fedBelow*math.Abs(r.Nominal)):
		return "Not up:", "find out why first"
	case off < 0:
		return words + " low:", "turn up"
	}
	return words + " high:", "turn down"
}

// twoDigits is the step worth turning a screw by: a twentieth of the band,
// rounded down to a power of ten.
func twoDigits(r capture.Rail) float64 {
	h := r.HalfBand()
	if h <= 0 {
		return 0.01
	}
	return math.Pow(10, math.Floor(math.Log10(h/10)+0.1))
}

func sign(r capture.Rail) float64 {
	if r.Nominal < 0 {
		return -1
	}
	return 1
}

func isZero(figure string) bool {
	for _, c := range figure {
		if c >= '1' && c <= '9' {
			return false
		}
	}
	return true
}
