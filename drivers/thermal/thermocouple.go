package thermal

import (
	"math"

	"steadyrail/capture"
)

// Thermocouple is a thermocouple of type K, J or T. The zero value is not one.
type Thermocouple struct{ curve *curve }

// The thermocouples. K is the usual one; J must not get damp; T is for the cold.
var (
	K = Thermocouple{curve: &typeK}
	J = Thermocouple{curve: &typeJ}
	T = Thermocouple{curve: &typeT}
)

// Source returns the DC voltage.
func (Thermocouple) Source() capture.Quantity { return capture.DCVoltage }

// Span returns the limits of the reference function.
func (tc Thermocouple) Span() (low, high float64) {
	f := tc.curve.forward
	return f[0].from, f[len(f)-1].to
}

// Millivolts is the reference function: the thermocouple's voltage against a
// junction at 0 °C, and its slope in mV/K. NaN outside the span.
func (tc Thermocouple) Millivolts(celsius float64) (mv, slope float64) {
	for _, p := range tc.curve.forward {
		if celsius < p.from || celsius > p.to {
			continue
		}
		mv, slope = polynomial(p.c, celsius)
		if p.from == 0 && tc.curve.bump[0] != 0 {
			a := tc.curve.bump
			d := celsius - a[2]
			e := a[0] * math.Exp(a[1]*d*d)
			mv, slope = mv+e, slope+2*a[1]*d*e
		}
		return mv, slope
	}
	return math.NaN(), math.NaN()
}

// At returns the volts between the wires whose far ends are at cold.
func (tc Thermocouple) At(celsius, cold float64) float64 {
	hot, _ := tc.Millivolts(celsius)
	ref, _ := tc.Millivolts(cold)
	return (hot - ref) / 1000
}

// Celsius returns the temperature of the hot junction. A cold junction that is
// no number, or where no terminal can be, gives none: see [ColdLow].
func (tc Thermocouple) Celsius(volts, cold float64) Temperature {
	if !(cold >= ColdLow && cold <= ColdHigh) {
		return none(capture.NotANumber)
	}
	ref, _ := tc.Millivolts(cold)
	mv := volts*1000 + ref
	low, high := tc.Span()
	least, _ := tc.Millivolts(low)
	most, _ := tc.Millivolts(high)
	if f := beyond(mv, least, most); f != 0 {
		return none(f)
	}
	t, slope := solve(mv, tc.estimate(mv), low, high, tc.Millivolts)
	return Temperature{Celsius: t, Slope: 1000 / slope}
}

// The range in which a cold junction is believed, in °C: a terminal block
// outside it is a mistake in wiring or typing (common practice).
const (
	ColdLow  = -40
	ColdHigh = 120
)

// estimate is the published inverse; outside its range, its nearest end.
func (tc Thermocouple) estimate(mv float64) float64 {
	inverse := tc.curve.inverse
	mv = max(mv, inverse[0].from)
	for _, p := range inverse {
		if mv <= p.to {
			t, _ := polynomial(p.c, mv)
			return t
		}
	}
	last := inverse[len(inverse)-1]
	t, _ := polynomial(last.c, last.to)
	return t
}
