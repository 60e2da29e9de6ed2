package rules

import (
	"math"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// sketchOf returns the little series of a kind.
func sketchOf(name string) sketch {
	for _, s := range append(sketches(), actSketches()...) {
		if s.name == name {
			return s
		}
	}
	return sketch{name: name, length: 2, every: 1, value: func(float64) float64 { return 0 }}
}

// step is a before t, b from then on.
func step(at, a, b float64) func(float64) float64 {
	return func(t float64) float64 {
		if t < at {
			return a
		}
		return b
	}
}

// dip is a, but b between two instants.
func dip(from, to, a, b float64) func(float64) float64 {
	return func(t float64) float64 {
		if t >= from && t < to {
			return b
		}
		return a
	}
}

// rough adds noise of about the given standard deviation, the same every time:
// the sum of three sawtooths that share no period.
func rough(sd func(float64) float64, f func(float64) float64) func(float64) float64 {
	saw := func(v float64) float64 { v = float64(v); return v - math.Floor(v) - 0.5 }
	return func(t float64) float64 {
		n := saw(float64(t*37.619)) + saw(float64(t*71.237)+0.3) + saw(float64(t*113.771)+0.7)
		return math.Round((f(t)+float64(2*sd(t)*n))*1e4) / 1e4
	}
}

func flat(v float64) func(float64) float64 { return func(float64) float64 { return v } }

// sketches lists one series for each kind of the table.
func sketches() []sketch {
	volts, low, high, quiet := capture.DCVoltage, 4.9, 5.1, flat(0.0015)
	volts10 := capture.Accuracy{Range: 10, OfReading: 0.00035, OfRange: 0.00005, Resolution: 0.0001}
	sensor := capture.Accuracy{Range: 200, OfReading: 0.005, Digits: 15, Resolution: 0.1} // 1.5 K and 0.5 %
	train := func(t float64) float64 { return step(3, 5, 1)(math.Mod(t, 4)) }
	return []sketch{
		{name: "collapse", length: 20, every: 0.2, quantity: volts, low: low, high: high, value: rough(quiet, dip(9, 13, 5, 3.6))},
		{name: "missing", length: 20, every: 0.2, quantity: volts, low: low, high: high, value: rough(quiet, step(9, 5, 0.3))},
		{name: "band", length: 20, every: 0.2, quantity: volts, low: low, high: high,
			value: rough(flat(0.006), func(t float64) float64 { return 5.03 - float64(0.01*t) })},
		{name: "silent", length: 20, every: 0.2, quantity: volts, low: low, high: high, value: step(9, 5, math.NaN())},
		{name: "auto-off", length: 900, every: 10, quantity: volts, low: low, high: high, value: rough(quiet, flat(5))},
		{name: "short", length: 6, every: 0.1, quantity: capture.Resistance, low: 0, high: capture.DefaultShortBelow, other: flat(0.002),
			value: func(t float64) float64 { return 0.9 + float64(max(0, 2.5-t)*max(0, 2.5-t)*2.5) }},
		{name: "limiting", length: 20, every: 0.2, quantity: volts, low: low, high: high, value: dip(9, 13, 5, 3.1),
			limits: func(t float64) bool { return t >= 9 && t < 13 }},
		{name: "restarts", length: 22, every: 0.2, quantity: volts, low: low, high: high, value: train},
		{name: "drift", length: 1800, every: 2, quantity: volts, low: low, high: high,
			value: rough(flat(0.003), func(t float64) float64 { return 5.05 - float64(t*0.00004) })},
		{name: "settled", length: 3000, every: 3, quantity: volts, low: 4.99, high: 5.01,
			value: rough(flat(0.0004), func(t float64) float64 { return 5 - float64(0.05*elementary.Exp(-t/480)) })},
		{name: "unrest", length: 40, every: 0.2, quantity: volts, low: low, high: high, value: rough(step(15, 0.002, 0.025), flat(5)), accuracy: volts10},
		{name: "hot", length: 60, every: 0.5, quantity: capture.Temperature, low: 20, high: 85, accuracy: sensor,
			value: func(t float64) float64 { return 40 + float64(t*0.95) }},
		{name: "overcurrent", length: 20, every: 0.2, quantity: capture.DCCurrent, low: 0, high: 2, rule: capture.Rule{Limit: 2},
			value: rough(flat(0.02), step(10, 0.8, 2.4))},
		{name: "frozen", length: 40, every: 0.2, quantity: volts, low: low, high: high,
			value: func(t float64) float64 { return rough(flat(0.008), flat(5))(min(t, 20)) }},
		{name: "order", length: 10, every: 0.2, quantity: volts, low: low, high: high, rule: capture.Rule{Against: sketchOther},
			value: step(3, 0, 5), other: step(5, 0, 12)},
	}
}
