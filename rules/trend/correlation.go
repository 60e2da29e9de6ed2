package trend

import "steadyrail/capture/elementary"

// Autocorrelation returns the correlations of evenly spaced readings with
// themselves, for lags 0 to most, by the definition of Box and Jenkins (sums
// about the mean of all, divided by the sum of squares). Lags the series does
// not have, and all lags but 0 of a constant one, are 0. It takes n·most time.
func Autocorrelation(readings []float64, most int) []float64 {
	out := make([]float64, max(0, most)+1)
	out[0] = 1
	var m Moments
	for _, v := range readings {
		m.Add(v)
	}
	rest := make([]float64, len(readings))
	for i, v := range readings {
		rest[i] = v - m.Mean()
	}
	squares := dot(rest, rest)
	if !(squares > 0) {
		return out
	}
	for lag := 1; lag < min(len(out), len(rest)); lag++ {
		out[lag] = dot(rest[lag:], rest[:len(rest)-lag]) / squares
	}
	return out
}

// EffectiveBySum returns how many of n readings count as independent in a mean,
// n/(1 + 2·Σ(1-k/n)·ρk) (Bayley and Hammersley, Supplement to the JRSS 8 (1946)
// 184), whatever law the correlations follow. The sum ends at the first lag that
// is five times the correlation sum reached (Sokal's window), for the noise of all
// lags together would outweigh it; rho is from lag 0. The result lies between 1
// and n. When the lags given do not reach that far, it is too great, and settled
// is false: take more lags.
func EffectiveBySum(n int, rho []float64) (effective float64, settled bool) {
	if n <= 1 {
		return float64(n), true
	}
	sum := 1.0
	for lag := 1; lag < len(rho) && lag < n; lag++ {
		sum += float64(2 * float64((1-float64(lag)/float64(n))*rho[lag]))
		if float64(lag) >= 5*max(1, sum)/2 {
			settled = true
			break
		}
	}
	return min(float64(n), max(1, float64(n)/max(1, sum))), settled
}

// Correlogram keeps the autocorrelations of a series for lags 1 to a greatest,
// with the same work and memory for every reading however many come: that many
// products, and twice that many readings kept. The result is that of
// [Autocorrelation] over the whole series, up to rounding.
type Correlogram struct {
	n      int
	origin float64   // the first value: taken off, which keeps the digits
	sum    float64   // of values less origin
	lagged []float64 // sums of products; [0] the squares
	head   []float64 // the first values
	ring   []float64 // the newest values: reading i stands at i modulo its length
}

// NewCorrelogram makes an empty correlogram for lags up to most, at least 1.
func NewCorrelogram(most int) *Correlogram {
	most = max(1, most)
	return &Correlogram{lagged: make([]float64, most+1), head: make([]float64, most), ring: make([]float64, most)}
}

// Add takes one finite value, in the order of time.
func (c *Correlogram) Add(v float64) {
	if c.n == 0 {
		c.origin = v
	}
	x, most := v-c.origin, len(c.ring)
	c.lagged[0] += float64(x * x)
	at := c.n % most
	for lag := 1; lag <= min(most, c.n); lag++ {
		// The ring still holds the reading that x will replace, most back.
		if at--; at < 0 {
			at = most - 1
		}
		c.lagged[lag] += float64(x * c.ring[at])
	}
	if c.n < most {
		c.head[c.n] = x
	}
	c.ring[c.n%most] = x
	c.sum += x
	c.n++
}

// Autocorrelation returns the correlations from lag 0 on.
func (c *Correlogram) Autocorrelation() []float64 {
	out := make([]float64, len(c.lagged))
	out[0] = 1
	n, most := float64(c.n), len(c.ring)
	mean := c.sum / max(1, n)
	squares := c.lagged[0] - float64(mean*c.sum)
	// What the subtraction leaves of a constant series is rounding.
	if !(squares > 1e-15*c.lagged[0]) {
		return out
	}
	var first, last float64 // sums of the lag first and the lag last values
	for lag := 1; lag <= most && lag < c.n; lag++ {
		first += c.head[lag-1]
		last += c.ring[((c.n-lag)%most+most)%most]
		shared := float64(mean * (2*c.sum - first - last))
		out[lag] = (c.lagged[lag] - shared + float64((n-float64(lag))*float64(mean*mean))) / squares
	}
	return out
}

// Effective returns how many of the values count as independent, by
// [EffectiveBySum]; false: the correlation reaches beyond the lags kept.
func (c *Correlogram) Effective() (float64, bool) {
	return EffectiveBySum(c.n, c.Autocorrelation())
}

// CorrelationTime returns -step/ln φ of an AR(1) series with lag-1
// autocorrelation φ, in the unit of step: 0 when φ is not positive.
func CorrelationTime(step, phi float64) float64 {
	if phi <= 0 {
		return 0
	}
	return -step / elementary.Log(min(phi, 0.9999))
}
