package thermal

import (
	"fmt"
	"math"
	"strings"

	"steadyrail/capture"
)

// Limits is how far a temperature may be off for reasons that lie beside the
// meter: Fixed kelvin, or Part of the temperature's size in °C where that is
// more. Where both are to be added, Sum is set.
type Limits struct {
	Low, High float64 // °C, where they hold
	Fixed     float64
	Part      float64
	Sum       bool
	Source    string
}

// Of returns the limit at a temperature; NaN where none is stated.
func (l Limits) Of(celsius float64) float64 {
	size := math.Abs(celsius)
	switch {
	case celsius < l.Low || celsius > l.High:
		return math.NaN()
	case l.Sum:
		return l.Fixed + l.Part*size
	}
	return max(l.Fixed, l.Part*size)
}

// Within is a limit that somebody states in kelvin, for all temperatures.
func Within(kelvins float64) Limits {
	return Limits{Low: -kelvin, High: math.MaxFloat64, Fixed: kelvins, Source: "stated in the configuration"}
}

const (
	couples   = "IEC 60584-1, table of tolerances, from memory"
	resistors = "IEC 60751, tolerance classes; A and B checked against public tables, the others from memory"
)

// classes are the tolerance classes by sensor. The limits of a thermocouple are
// those of new wire.
var classes = map[string]map[string]Limits{
	"thermocouple-k": {
		"1": {Low: -40, High: 1000, Fixed: 1.5, Part: 0.004, Source: couples},
		"2": {Low: -40, High: 1200, Fixed: 2.5, Part: 0.0075, Source: couples},
		"3": {Low: -200, High: 40, Fixed: 2.5, Part: 0.015, Source: couples},
	},
	"thermocouple-j": {
		"1": {Low: -40, High: 750, Fixed: 1.5, Part: 0.004, Source: couples},
		"2": {Low: -40, High: 750, Fixed: 2.5, Part: 0.0075, Source: couples},
	},
	"thermocouple-t": {
		"1": {Low: -40, High: 350, Fixed: 0.5, Part: 0.004, Source: couples},
		"2": {Low: -40, High: 350, Fixed: 1, Part: 0.0075, Source: couples},
		"3": {Low: -200, High: 40, Fixed: 1, Part: 0.015, Source: couples},
	},
	"pt100":  platinumClasses,
	"pt1000": platinumClasses,
}

// The ranges are those of wire-wound resistors.
var platinumClasses = map[string]Limits{
	"AA": {Low: -50, High: 250, Fixed: 0.1, Part: 0.0017, Sum: true, Source: resistors},
	"A":  {Low: -100, High: 450, Fixed: 0.15, Part: 0.002, Sum: true, Source: resistors},
	"B":  {Low: -196, High: 600, Fixed: 0.3, Part: 0.005, Sum: true, Source: resistors},
	"C":  {Low: -196, High: 600, Fixed: 0.6, Part: 0.01, Sum: true, Source: resistors},
}

// Class returns the limits of a tolerance class: "1", "2" or "3" of a
// thermocouple, "AA", "A", "B" or "C" of a platinum resistor.
func Class(kind, class string) (Limits, error) {
	of := classes[kind]
	if l, ok := of[class]; ok {
		return l, nil
	}
	if of == nil {
		return Limits{}, fmt.Errorf("tolerance: a %s has no classes: state a limit in kelvin, such as 0.5", kind)
	}
	var names []string
	for _, c := range []string{"AA", "A", "B", "C", "1", "2", "3"} {
		if _, ok := of[c]; ok {
			names = append(names, c)
		}
	}
	return Limits{}, fmt.Errorf("tolerance: %q is no class of a %s: use one of %s, or a limit in kelvin such as 0.5", class, kind, strings.Join(names, ", "))
}

// Chain is what stands between a temperature and a figure: what the sensor is
// good for, what its cold junction is known to, and the meter.
type Chain struct {
	Sensor Sensor
	Limits Limits             // of the sensor
	Cold   float64            // °C, where the cold junction usually is
	Within float64            // K, limit of its temperature; 0 for other sensors
	Meter  []capture.Accuracy // of the source channel
}

// rung is a stretch of temperatures that shares one limit of error, the worst
// within it.
type rung struct{ low, high float64 }

// name is the rung's range in a statement: a full scale in °C that no other has.
func (r rung) name() float64 { return max(math.Abs(r.low), math.Abs(r.high)) }

var ladder = []rung{{-50, 50}, {50, 100}, {100, 200}, {200, 400}, {400, 800}, {800, 1400}, {-275, -50}}

func rungOf(celsius float64) (rung, bool) {
	for _, r := range ladder {
		if celsius >= r.low && celsius <= r.high {
			return r, true
		}
	}
	return rung{}, false
}

// apart keeps the names of a rung for two ranges of the meter from being the
// same number, by less than anyone is shown.
const apart = 3e-6

// Accuracy states limits of error in kelvin, one for each range of the meter
// and stretch of temperatures: what the meter, the sensor and the cold junction
// may add up to at worst. Where the sensor or the meter states nothing there is
// no statement, and the temperature is indicated only.
func (c Chain) Accuracy() []capture.Accuracy {
	var out []capture.Accuracy
	for i, m := range c.Meter {
		for _, r := range ladder {
			if limit, slope, ok := c.worst(r, m); ok {
				name := r.name() * (1 + apart*float64(i))
				out = append(out, capture.Accuracy{
					Range: name, OfRange: limit / name, Resolution: m.Resolution * slope,
					Uncertainty: c.source(m),
				})
			}
		}
	}
	return out
}

// unstated is a range in °C above all that are stated: nothing is known of it.
const unstated = 1e4

// Range returns the range under which [Chain.Accuracy] states what holds for a
// temperature that was taken in a range of the meter. It is 0 when the meter
// does not tell its range, and one without a statement where none holds.
func (c Chain) Range(celsius, meter float64) float64 {
	r, ok := rungOf(celsius)
	switch {
	case !ok || math.IsNaN(c.Limits.Of(celsius)):
		return unstated
	case meter <= 0:
		return 0
	}
	for i, m := range c.Meter {
		if math.Abs(m.Range-meter) <= 1e-6*m.Range {
			return r.name() * (1 + apart*float64(i))
		}
	}
	return unstated
}

func (c Chain) source(m capture.Accuracy) string {
	parts := []string{"computed: worst within the stretch of the meter (" + m.Uncertainty + ") and the sensor (" + c.Limits.Source + ")"}
	if c.Within > 0 {
		parts = append(parts, fmt.Sprintf("cold junction within %g K", c.Within))
	}
	return strings.Join(parts, "; ")
}

// samples is how often a stretch is looked at. The limits change so slowly that
// more would tell nothing new.
const samples = 64

// worst returns the largest limit of error within a rung, and the largest
// slope. It is not ok where the sensor's limits or the meter's range do not
// reach, unless they reach a part of the rung.
func (c Chain) worst(r rung, m capture.Accuracy) (limit, slope float64, ok bool) {
	for i := range samples + 1 {
		t := r.low + (r.high-r.low)*float64(i)/samples
		own := c.Limits.Of(t)
		x := c.Sensor.At(t, c.Cold)
		if math.IsNaN(own) || math.IsNaN(x) || math.Abs(x) > m.Range {
			continue
		}
		at := c.Sensor.Celsius(x, c.Cold)
		if at.Flags != 0 {
			continue
		}
		meter := (m.OfReading*math.Abs(x) + m.OfRange*m.Range + m.Digits*m.Resolution) * at.Slope
		limit = max(limit, meter+own+c.Within*c.coldSlope()*at.Slope)
		slope, ok = max(slope, at.Slope), true
	}
	return limit, slope, ok && (m.OfReading > 0 || m.OfRange > 0 || m.Digits > 0)
}

// coldSlope is how many volts a kelvin at the cold junction makes; 0 for
// sensors that have none.
func (c Chain) coldSlope() float64 {
	tc, ok := c.Sensor.(Thermocouple)
	if !ok {
		return 0
	}
	_, slope := tc.Millivolts(c.Cold)
	return slope / 1000
}
