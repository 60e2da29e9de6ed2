package standin

import (
	"errors"
	"fmt"
	"math"

	"steadyrail/capture"
	"steadyrail/rules/waveform"
)

// ErrCapture is wrapped when a capture cannot be what it is said to be.
var ErrCapture = errors.New("the capture is not of this rail")

// Scope is what an oscilloscope's captures show of a candidate on its rail. What
// is nil was not captured.
type Scope struct {
	Start  *Seen[waveform.Start]
	Step   *Seen[waveform.Step]
	Ripple *Seen[waveform.Swing]
	Input  *Seen[waveform.Swing] // what feeds it, at low mains and full load
}

// Seen is one capture worked out.
type Seen[T any] struct {
	Shape  T
	Source string  // "start.csv, CH1: 5000 samples in 10 ms"
	Rate   float64 // samples a second
	Count  float64 // V, one count
}

// Shows are what a capture may show.
const (
	ShowsStart  = "start"
	ShowsStep   = "load step"
	ShowsRipple = "ripple"
	ShowsInput  = "input"
)

// gain is how far an oscilloscope's volts may be off, in parts of what it shows,
// when nobody states better: 3 % (common for 8 bits; from memory).
const gain = 0.03

// settlesWithin is how far a capture of a rail may end from its target, in parts
// of it: beyond, the probe's factor is not set.
const settlesWithin = 0.2

// Add works a capture out as what it shows; an empty shows is found by the data
// when that can only be a start. The error wraps [waveform.ErrShape] or
// [ErrCapture].
func (s *Scope) Add(rail capture.Rail, shows, source string, t waveform.Trace) error {
	if err := t.Check(); err != nil {
		return err
	}
	t = t.Sized(shows != ShowsInput && rail.Nominal < 0)
	if shows == "" {
		if shows = guessed(rail, t); shows == "" {
			return fmt.Errorf("%w: it may show a %s or its %s: say which", ErrCapture, ShowsStep, ShowsRipple)
		}
	}
	if shows == ShowsStep && guessed(rail, t) == ShowsStart {
		return fmt.Errorf("%w: it begins with the rail off and ends with it on: that is a %s, not a %s", ErrCapture, ShowsStart, ShowsStep)
	}
	source = fmt.Sprintf("%s: %d samples in %s", source, len(t.Times), text(capture.Second, t.Duration()))
	switch shows {
	case ShowsStart:
		shape, err := t.Start(rail.HalfBand())
		s.Start = seen(shape, source, t)
		return rightRail(rail, shape.High, err)
	case ShowsStep:
		shape, err := t.Step(rail.HalfBand() / 2)
		s.Step = seen(shape, source, t)
		return rightRail(rail, shape.After, err)
	case ShowsRipple:
		shape, err := t.Steady()
		s.Ripple = seen(shape, source, t)
		if math.Abs(shape.Mean) < rail.HalfBand() { // AC coupled
			return err
		}
		return rightRail(rail, shape.Mean, err)
	case ShowsInput:
		shape, err := t.Steady()
		s.Input = seen(shape, source, t)
		return err
	}
	return fmt.Errorf("%w: a capture shows %s, %s, %s or %s, not %q", ErrCapture, ShowsStart, ShowsStep, ShowsRipple, ShowsInput, shows)
}

func seen[T any](shape T, source string, t waveform.Trace) *Seen[T] {
	return &Seen[T]{Shape: shape, Source: source, Rate: t.Rate(), Count: t.Resolution}
}

// guessed takes what begins below a tenth of the target and ends above nine for
// a start.
func guessed(rail capture.Rail, t waveform.Trace) string {
	target := math.Abs(rail.Target)
	if t.Values[0] < 0.1*target && t.Values[len(t.Values)-1] > 0.9*target {
		return ShowsStart
	}
	return ""
}

// rightRail refuses a capture that does not end where the rail belongs: with a
// probe of 10:1 that was told to nobody, an overshoot of 1 V reads 0.1 V.
func rightRail(rail capture.Rail, level float64, err error) error {
	target := math.Abs(rail.Target)
	if err == nil && math.Abs(level-target) > settlesWithin*target {
		return fmt.Errorf("%w: it settles at %s and %s is to have %s; is the probe's factor set, and is it this rail?", ErrCapture, text(capture.Volt, level), rail.Name, text(capture.Volt, target))
	}
	return err
}

// bandwidth is said beside every figure of a capture.
func (s Seen[T]) bandwidth() string {
	return fmt.Sprintf("IEEE 181 terms, states by the histogram's modes (from memory); %s, bandwidth and accuracy not stated in a file: volts are taken to 3 %%", samplesText(s.Rate))
}

func samplesText(rate float64) string {
	return capture.Hertz.Text(rate, step(rate)) + " of samples"
}

// doubt is that of a difference of volts in a capture.
func (s Seen[T]) doubt(volts, noise float64) float64 {
	return root(gain*volts, s.Count, noise)
}

// fed takes the range of the input from a capture, where there is one: its valley
// and crest are what a meter's mean does not show.
func (s Scope) fed(n Need) Need {
	if s.Input == nil {
		return n
	}
	in := s.Input.Shape
	low, high := in.Least, in.Most
	if in.Mean < 0 {
		low, high = in.Most, in.Least
	}
	from := "measured: " + s.Input.Source
	n.InLow = Figure{Value: low, U: s.Input.doubt(low, 0), Source: from}
	if !n.InHigh.Stated() || math.Abs(high) > math.Abs(n.InHigh.Value) {
		n.InHigh = Figure{Value: high, U: s.Input.doubt(high, 0), Source: from}
	}
	return n
}
