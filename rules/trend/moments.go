package trend

import "math"

// Moments keeps count, mean, standard deviation and lag-1 autocorrelation of a
// series in one pass and constant space (Welford 1962; the lagged sum is moved
// to each new mean exactly). Values are taken relative to the first, which
// keeps all digits of readings that lie close together. The zero value is
// empty and ready.
type Moments struct {
	n      int
	origin float64 // the first value
	mean   float64 // of value - origin
	m2     float64 // sum of squared deviations
	lagged float64 // sum of products of neighbours' deviations
	last   float64 // value - origin of the newest
}

// Add takes one finite value, in the order of time.
func (m *Moments) Add(v float64) {
	if m.n == 0 {
		*m = Moments{n: 1, origin: v}
		return
	}
	x := v - m.origin
	n := float64(m.n)
	step := x - m.mean
	delta := step / (n + 1)
	// The deviations of the newest and of the first value from the old mean.
	lastDev, firstDev := m.last-m.mean, -m.mean
	m.mean += delta
	m.m2 += float64(step * (x - m.mean))
	m.lagged += float64(delta*(lastDev+firstDev)) + float64((n-1)*float64(delta*delta))
	m.lagged += float64((m.last - m.mean) * (x - m.mean))
	m.last = x
	m.n++
}

// N returns how many values were taken.
func (m *Moments) N() int { return m.n }

// Mean returns the mean, 0 of nothing.
func (m *Moments) Mean() float64 { return m.origin + m.mean }

// SD returns the sample standard deviation (divisor n-1), 0 of fewer than two.
func (m *Moments) SD() float64 {
	if m.n < 2 {
		return 0
	}
	return math.Sqrt(max(0, m.m2) / float64(m.n-1))
}

// Lag1 returns the autocorrelation at lag one, as NIST StRD defines it: 0 for
// fewer than three values and for values that are all the same. From a short
// series it comes out low, by about (1+4φ)/n.
func (m *Moments) Lag1() float64 {
	if m.n < 3 || m.m2 <= 0 {
		return 0
	}
	return min(1, max(-1, m.lagged/m.m2))
}

// Effective returns how many of the values count as independent.
func (m *Moments) Effective() float64 { return Effective(m.n, m.Lag1()) }

// EffectiveForSpread is [Effective] for a standard deviation instead of a mean:
// n(1-φ²)/(1+φ²) (Bayley and Hammersley, Supplement to the JRSS 8 (1946) 184).
// There alternation costs as much as correlation.
func EffectiveForSpread(n int, phi float64) float64 {
	phi2 := float64(phi * phi)
	return Effective(n, phi2)
}

// Effective returns n(1-φ)/(1+φ), the number of independent readings that n
// readings of an AR(1) series with lag-1 autocorrelation φ are worth in a mean.
// A negative φ is taken as 0, for alternation is no extra knowledge; the result
// lies between 1 and n.
func Effective(n int, phi float64) float64 {
	if n <= 1 {
		return float64(n)
	}
	phi = min(1, max(0, phi))
	return max(1, float64(n)*(1-phi)/(1+phi))
}
