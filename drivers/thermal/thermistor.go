package thermal

import (
	"math"

	"steadyrail/capture"
)

// kelvin is 0 °C.
const kelvin = 273.15

// Thermistor is an NTC resistor by the equation of Steinhart and Hart (Deep-Sea
// Research 15, 1968), 1/T = A + B·ln R + C·(ln R)³, T in kelvin and R in ohm.
// The zero value is not one.
type Thermistor struct {
	A, B, C float64
	Leads   float64 // ohm of both leads together, taken off
}

// Beta is the thermistor that has r25 ohms at 25 °C and a constant beta in
// kelvin: R = R25·exp(B·(1/T − 1/298.15 K)). It is the same equation with C = 0.
func Beta(r25, beta, leads float64) Thermistor {
	return Thermistor{A: 1/(25+kelvin) - math.Log(r25)/beta, B: 1 / beta, Leads: leads}
}

// Limits between which a thermistor is believed, °C (common practice: bead
// thermistors are made for less than that; outside the fit is made up).
const (
	thermistorLow  = -55
	thermistorHigh = 200
)

// Source returns the resistance.
func (Thermistor) Source() capture.Quantity { return capture.Resistance }

// Span returns −55 °C to 200 °C.
func (Thermistor) Span() (low, high float64) { return thermistorLow, thermistorHigh }

// log is the logarithm of the resistance at so many kelvin: the root of a cubic
// that rises, hence the only one.
func (th Thermistor) log(absolute float64) float64 {
	y := 1/absolute - th.A
	guess := y / th.B
	x, _ := solve(y, guess, -60, 60, func(x float64) (value, slope float64) {
		return x * (th.B + th.C*x*x), th.B + 3*th.C*x*x
	})
	return x
}

// At returns the ohms that a meter reads, leads included.
func (th Thermistor) At(celsius, _ float64) float64 {
	if beyond(celsius, thermistorLow, thermistorHigh) != 0 {
		return math.NaN()
	}
	return math.Exp(th.log(celsius+kelvin)) + th.Leads
}

// Celsius returns the temperature. An open thermistor would be colder than any
// is: it is flagged as over the range of ohms, a short as under it.
func (th Thermistor) Celsius(ohms, cold float64) Temperature {
	if f := beyond(ohms, th.At(thermistorHigh, cold), th.At(thermistorLow, cold)); f != 0 {
		return none(f)
	}
	r := ohms - th.Leads
	x := math.Log(r)
	absolute := 1 / (th.A + x*(th.B+th.C*x*x))
	return Temperature{Celsius: absolute - kelvin, Slope: absolute * absolute * (th.B + 3*th.C*x*x) / r}
}
