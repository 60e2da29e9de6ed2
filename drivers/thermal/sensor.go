package thermal

import (
	"math"

	"steadyrail/capture"
)

// Sensor is a thing whose volts or ohms tell a temperature. The sensors of this
// package are plain values that never change.
type Sensor interface {
	// Source is the quantity that is measured at the sensor.
	Source() capture.Quantity
	// Span is the range in °C for which the sensor's function holds.
	Span() (low, high float64)
	// At returns what a meter reads at so many °C; NaN outside the span. The
	// cold junction's temperature matters to thermocouples alone.
	At(celsius, cold float64) float64
	// Celsius turns what a meter read into a temperature.
	Celsius(x, cold float64) Temperature
}

// Temperature is the result of a conversion.
type Temperature struct {
	Celsius float64       // 0 and meaningless with a flag
	Slope   float64       // kelvin per volt or ohm, its size without the sign
	Flags   capture.Flags // OverRange, UnderRange or NotANumber: no temperature
}

// none is a temperature that is not there.
func none(why capture.Flags) Temperature { return Temperature{Flags: why} }

// beyond flags what lies outside of low to high; 0 when it lies inside.
func beyond(x, low, high float64) capture.Flags {
	switch {
	case math.IsNaN(x):
		return capture.NotANumber
	case x > high:
		return capture.OverRange
	case x < low:
		return capture.UnderRange
	}
	return 0
}

// steps bounds a solution by Newton's method. Four do for what is here; halving
// an interval of 2000 K down to a nanokelvin takes 41.
const steps = 60

// solve finds t between low and high with f(t) = want, for an f that rises.
// Newton's method starts at guess; a step that leaves the interval in which the
// solution is known to lie is replaced by halving it.
func solve(want, guess, low, high float64, f func(t float64) (value, slope float64)) (t, slope float64) {
	t = min(max(guess, low), high)
	for range steps {
		value, d := f(t)
		slope = d
		miss := value - want
		if miss > 0 {
			high = t
		} else {
			low = t
		}
		next := t - miss/d
		if !(next >= low && next <= high) { // also when d is 0 or no number
			next = low + (high-low)/2
		}
		if math.Abs(next-t) < 1e-9 {
			return next, slope
		}
		t = next
	}
	return t, slope
}

// polynomial returns the value and the derivative (Horner).
func polynomial(c []float64, x float64) (value, slope float64) {
	for i := len(c) - 1; i >= 0; i-- {
		slope = slope*x + value
		value = value*x + c[i]
	}
	return value, slope
}
