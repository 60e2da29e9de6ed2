package waveform

import (
	"errors"
	"fmt"
	"math"
)

// ErrShape is wrapped when a capture does not show what is asked of it.
var ErrShape = errors.New("the capture does not show it")

// fewest is how many samples a shape is worked out from.
const fewest = 16

// Trace is a capture: volts at seconds, which increase strictly.
type Trace struct {
	Times, Values []float64
	Resolution    float64 // V, one count; 0: not known
}

// Check reports what makes a trace unfit for anything: too few samples, times
// that do not increase, what is no number. The error wraps [ErrShape].
func (t Trace) Check() error {
	if len(t.Times) != len(t.Values) {
		return fmt.Errorf("%w: %d times and %d values", ErrShape, len(t.Times), len(t.Values))
	}
	if len(t.Times) < fewest {
		return fmt.Errorf("%w: it has %d samples, and %d are the fewest", ErrShape, len(t.Times), fewest)
	}
	for i := range t.Times {
		if !finite(t.Times[i]) || !finite(t.Values[i]) {
			return fmt.Errorf("%w: sample %d is no number", ErrShape, i+1)
		}
		if i > 0 && t.Times[i] <= t.Times[i-1] {
			return fmt.Errorf("%w: sample %d does not lie after the one before", ErrShape, i+1)
		}
	}
	if !finite(t.Duration()) || !finite(span(t.Values)) {
		return fmt.Errorf("%w: its numbers are beyond anything a bench measures", ErrShape)
	}
	return nil
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// Duration is the time from the first sample to the last, in seconds.
func (t Trace) Duration() float64 { return t.Times[len(t.Times)-1] - t.Times[0] }

// Rate is the mean number of samples a second.
func (t Trace) Rate() float64 { return float64(len(t.Times)-1) / t.Duration() }

// Sized returns the trace by magnitude: a negative rail rises away from zero.
func (t Trace) Sized(negative bool) Trace {
	if !negative {
		return t
	}
	out := Trace{Times: t.Times, Values: make([]float64, len(t.Values)), Resolution: t.Resolution}
	for i, v := range t.Values {
		out.Values[i] = -v
	}
	return out
}

// Part returns the samples in [from, to), in indices.
func (t Trace) Part(from, to int) Trace {
	return Trace{Times: t.Times[from:to], Values: t.Values[from:to], Resolution: t.Resolution}
}

func span(values []float64) float64 {
	low, high := ends(values)
	return high - low
}

// ends returns the least and the greatest of at least one value.
func ends(values []float64) (low, high float64) {
	low, high = values[0], values[0]
	for _, v := range values {
		low, high = min(low, v), max(high, v)
	}
	return low, high
}

// crossing is when the straight line between samples i-1 and i is at a level.
func (t Trace) crossing(i int, level float64) float64 {
	a, b := t.Values[i-1], t.Values[i]
	if a == b {
		return t.Times[i]
	}
	share := min(1, max(0, (level-a)/(b-a)))
	return t.Times[i-1] + float64(share*(t.Times[i]-t.Times[i-1]))
}

// firstAbove is the first sample at or above a level from index i on; -1: none.
func (t Trace) firstAbove(level float64, i int) int {
	for ; i < len(t.Values); i++ {
		if t.Values[i] >= level {
			return i
		}
	}
	return -1
}
