package trend

import "math"

// Stability is how much the means of a series over one averaging time differ
// from each other, in seven ways. A deviation of which the series holds no term is
// 0. Formulas: Riley, Handbook of
// Frequency Stability Analysis, NIST SP 1065 (2008), section 5; IEEE 1139.
//
// The readings stand where that book has fractional frequencies. White noise
// falls with the root of the averaging time, a drift rises with it: where the
// curve has its bottom, averaging longer stops helping. The Hadamard deviations
// do not see a steady drift at all.
type Stability struct {
	Factor              int     // readings per mean
	Allan               float64 // of means that do not overlap
	Overlapping         float64
	Modified            float64
	Hadamard            float64
	OverlappingHadamard float64
	Total               float64 // Allan's, over the series continued at both ends by its mirror image: less scatter at long means
	Terms               int     // second differences in Overlapping: what it rests on
}

// StabilityOf computes the deviations of evenly spaced readings for means of
// factor readings; false: fewer than twice the factor, or a factor below one.
func StabilityOf(readings []float64, factor int) (Stability, bool) {
	if factor < 1 || len(readings) < 2*factor {
		return Stability{}, false
	}
	x, m := phase(readings), float64(factor)
	s := Stability{Factor: factor, Terms: len(x) - 2*factor}
	s.Allan = rootMean(x, factor, factor, second) / (m * math.Sqrt2)
	s.Overlapping = rootMean(x, factor, 1, second) / (m * math.Sqrt2)
	s.Modified = modified(x, factor) / (float64(m*m) * math.Sqrt2)
	s.Hadamard = rootMean(x, factor, factor, third) / (m * math.Sqrt(6))
	s.OverlappingHadamard = rootMean(x, factor, 1, third) / (m * math.Sqrt(6))
	s.Total = total(x, factor) / (m * math.Sqrt2)
	return s, true
}

// total is the root mean square of the second differences about each inner
// phase, the series continued by reflection about its ends (SP 1065, 5.11).
func total(x []float64, m int) float64 {
	last := len(x) - 1
	at := func(i int) float64 {
		switch {
		case i < 0:
			return 2*x[0] - x[-i]
		case i > last:
			return 2*x[last] - x[2*last-i]
		}
		return x[i]
	}
	if last < 2 {
		return 0
	}
	var sum float64
	for i := 1; i < last; i++ {
		v := at(i-m) - x[i] - (x[i] - at(i+m))
		sum += float64(v * v)
	}
	return math.Sqrt(sum / float64(last-1))
}

// StabilitySweep computes the deviations for means of 1, 2, 4, … readings.
func StabilitySweep(readings []float64) (out []Stability) {
	for factor := 1; ; factor *= 2 {
		s, ok := StabilityOf(readings, factor)
		if !ok {
			return out
		}
		out = append(out, s)
	}
}

// phase is the running sum of the readings less their mean, which no difference
// sees and which would cost digits.
func phase(readings []float64) []float64 {
	var m Moments
	for _, v := range readings {
		m.Add(v)
	}
	x := make([]float64, len(readings)+1)
	for i, v := range readings {
		x[i+1] = x[i] + (v - m.Mean())
	}
	return x
}

// difference is one difference of phases a factor apart; its order tells how
// many it spans.
type difference struct {
	order int
	at    func(x []float64, i, m int) float64
}

var (
	second = difference{2, func(x []float64, i, m int) float64 { return x[i+2*m] - x[i+m] - (x[i+m] - x[i]) }}
	third  = difference{3, func(x []float64, i, m int) float64 {
		return second.at(x, i+m, m) - second.at(x, i, m)
	}}
)

// rootMean is the root mean square of the differences, every stride.
func rootMean(x []float64, m, stride int, d difference) float64 {
	var sum float64
	n := 0
	for i := 0; i+d.order*m < len(x); i += stride {
		v := d.at(x, i, m)
		sum += float64(v * v)
		n++
	}
	if n == 0 {
		return 0
	}
	return math.Sqrt(sum / float64(n))
}

// modified is the root mean square of the sums of m neighbouring second
// differences, kept as a running sum.
func modified(x []float64, m int) float64 {
	var inner, sum float64
	n := 0
	for i := 0; i+2*m < len(x); i++ {
		inner += second.at(x, i, m)
		if i >= m {
			inner -= second.at(x, i-m, m)
		}
		if i >= m-1 {
			sum += float64(inner * inner)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return math.Sqrt(sum / float64(n))
}
