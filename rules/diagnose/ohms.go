package diagnose

import (
	"steadyrail/capture/elementary"
)

// How far parts scatter, as standard deviations of the natural logarithm, and
// where faults lie (the project's choice, wide on purpose): healthy resistances
// within ±30 %, a short within 0.1 to 3 ohm, a leak within 8 to 200 ohm.
const (
	healthySpread = 0.15
	shortOhm      = 0.6
	shortSpread   = 0.85
	leakOhm       = 40.0
	leakSpread    = 0.8
	openOhm       = 1e9
)

// quintiles are the mid-points of five equal parts of the standard normal
// distribution, over which the resistance of a fault is averaged.
var quintiles = []float64{-1.28155, -0.52440, 0, 0.52440, 1.28155}

// bunch is a set of faults that are there together.
type bunch []Fault

func (f bunch) has(part string, k Kind) bool {
	for _, x := range f {
		if x.Part == part && x.Kind == k {
			return true
		}
	}
	return false
}

// attached says whether a load hangs on its rail.
func attached(l Load, f bunch, off stand) bool {
	return l.Connector == "" || !off.without(l.Connector) && !f.has(l.Connector, ConnectorOpen)
}

// ohms predicts the resistance of a rail to its return: the healthy branches
// that are attached, in parallel with what the faults add.
func (b Board) ohms(rail string, f bunch, off stand) []float64 {
	healthy, shorts, leaks := 0.0, 0, 0
	for _, l := range b.Loads {
		if l.Rail == rail && attached(l, f, off) {
			healthy += 1 / l.Ohms
			shorts += count(f.has(l.Name, Shorted))
		}
	}
	for _, c := range b.Capacitors {
		if c.Rail == rail && !off.without(c.Name) {
			shorts += count(f.has(c.Name, Shorted))
			leaks += count(f.has(c.Name, Leaky))
		}
	}
	for _, c := range b.Converters {
		if off.without(c.Name) {
			continue
		}
		if c.In == rail {
			healthy += 1 / c.InOhms
		}
		if c.Out == rail && !f.has(c.Name, InductorOpen) {
			healthy += 1 / c.Ohms
			shorts += count(f.has(c.Name, Shorted))
		}
	}
	return parallel(healthy, shorts, leaks)
}

func count(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// parallel is the distribution of 1/(G + shorts + leaks). Two shorts on one
// rail count as two of the same resistance.
func parallel(g float64, shorts, leaks int) []float64 {
	g = max(g, 1/openOhm)
	if shorts == 0 && leaks == 0 {
		return logNormal(1/g, healthySpread)
	}
	middle, wide, n := leakOhm, leakSpread, leaks
	if shorts > 0 {
		middle, wide, n = shortOhm, shortSpread, shorts
	}
	out := make([]float64, cells)
	for _, q := range quintiles {
		fault := float64(middle * elementary.Exp(float64(q*wide)))
		for c, p := range logNormal(1/(g+float64(n)/fault), max(healthySpread, wide/3)) {
			out[c] += p / float64(len(quintiles))
		}
	}
	return out
}

func logNormal(middle, wide float64) []float64 {
	return spread(func(ohm float64) float64 { return normal(elementary.Log(ohm/middle) / wide) })
}

// alone predicts the resistance of a part that is off the board.
func (b Board) alone(part string, f bunch) []float64 {
	healthy := 0.0
	if c, is := b.converter(part); is {
		healthy = 1 / c.Ohms
	}
	return parallel(healthy, count(f.has(part, Shorted)), count(f.has(part, Leaky)))
}
