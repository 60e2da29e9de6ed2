package thermal

import (
	"math"

	"steadyrail/capture"
)

// Platinum is a platinum resistor after IEC 60751. The zero value is not one.
type Platinum struct {
	R0    float64 // ohm at 0 °C: 100 for a Pt100
	Leads float64 // ohm of both leads together, taken off; 0 for four wires
}

// Coefficients of IEC 60751:2008, 4.2 (Callendar and Van Dusen), per kelvin and
// its powers.
const (
	cvdA = 3.9083e-3
	cvdB = -5.775e-7
	cvdC = -4.183e-12 // below 0 °C only
)

// Limits of IEC 60751, °C.
const (
	platinumLow  = -200
	platinumHigh = 850
)

// Source returns the resistance.
func (Platinum) Source() capture.Quantity { return capture.Resistance }

// Span returns −200 °C to 850 °C.
func (Platinum) Span() (low, high float64) { return platinumLow, platinumHigh }

// ratio is R/R0 and its slope per kelvin.
func ratio(t float64) (w, slope float64) {
	w, slope = 1+t*(cvdA+t*cvdB), cvdA+2*cvdB*t
	if t < 0 {
		w += cvdC * (t - 100) * t * t * t
		slope += cvdC * (4*t - 300) * t * t
	}
	return w, slope
}

// At returns the ohms that a meter reads, leads included.
func (p Platinum) At(celsius, _ float64) float64 {
	if beyond(celsius, platinumLow, platinumHigh) != 0 {
		return math.NaN()
	}
	w, _ := ratio(celsius)
	return p.R0*w + p.Leads
}

// Celsius returns the temperature. An open sensor is over the range, a shorted
// one under it.
func (p Platinum) Celsius(ohms, _ float64) Temperature {
	w := (ohms - p.Leads) / p.R0
	least, _ := ratio(platinumLow)
	most, _ := ratio(platinumHigh)
	if f := beyond(w, least, most); f != 0 {
		return none(f)
	}
	// The quadratic of the warm side is exact there, and near enough to begin
	// with on the cold one.
	guess := (-cvdA + math.Sqrt(cvdA*cvdA-4*cvdB*(1-w))) / (2 * cvdB)
	t, slope := solve(w, guess, platinumLow, platinumHigh, ratio)
	return Temperature{Celsius: t, Slope: 1 / (slope * p.R0)}
}
