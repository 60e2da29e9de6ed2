package trend

import (
	"math"
	"slices"
)

// Kendall is the test of Mann and Kendall: does a series move one way at all?
type Kendall struct {
	N    int
	S    float64 // pairs that rise less pairs that fall
	SD   float64 // of S, if there is no trend
	Z    float64 // S in standard deviations, corrected by one for continuity
	P    float64 // two-sided
	TauB float64 // S over the number of pairs, less ties
}

// MannKendallCorrelated tests readings in order of time (Mann, Econometrica 13
// (1945) 245; Kendall, Rank Correlation Methods), and widens the variance by the
// autocorrelation of the ranks of the series less its Theil-Sen slope, as far as it
// is significant (Hamed and Rao, Journal of Hydrology 204 (1998) 182). The readings
// must be evenly spaced. It repairs moderate correlation; see [TheilSenCorrelated]
// for how far. It takes n² time: feed it blocks.
func MannKendallCorrelated(y []float64) Kendall { return kendall(y, varianceFactor(y)) }

func kendall(y []float64, factor float64) Kendall {
	k := Kendall{N: len(y), P: 1}
	rising, falling, tied := 0, 0, 0
	for i, a := range y {
		for _, b := range y[i+1:] {
			switch {
			case b > a:
				rising++
			case b < a:
				falling++
			default:
				tied++
			}
		}
	}
	pairs := float64(rising + falling + tied)
	k.S = float64(rising - falling)
	k.SD = math.Sqrt(float64(kendallVariance(y) * factor))
	if moving := float64(rising + falling); moving > 0 {
		k.TauB = k.S / math.Sqrt(float64(pairs*moving))
	}
	if k.SD > 0 && k.S != 0 {
		k.Z = math.Copysign(math.Abs(k.S)-1, k.S) / k.SD
		k.P = math.Erfc(math.Abs(k.Z) / math.Sqrt2)
	}
	return k
}

// TheilSenCorrelated is [TheilSen] with the interval widened by the variance of
// Hamed and Rao; the points must be evenly spaced. Simulated with 300 readings
// of an AR(1) series, the nominal 95 % hold the truth in 87 % at a lag-1
// correlation of 0.5, in 68 % at 0.9 and in 50 % at 0.99, against 74, 34 and 12 %
// uncorrected: better, and not good. Where readings allow it, use blocks.
func TheilSenCorrelated(x, y []float64) (slope, low, high float64, ok bool) {
	return theilSen(x, y, varianceFactor(y[:min(len(x), len(y))]))
}

// varianceFactor is n/n* of Hamed and Rao, at least one: alternation is taken
// for no extra knowledge.
func varianceFactor(y []float64) float64 {
	n := len(y)
	if n < 4 {
		return 1
	}
	x := make([]float64, n)
	for i := range x {
		x[i] = float64(i)
	}
	slope := MedianOf(slopesOf(x, y))
	rest := make([]float64, n)
	for i, v := range y {
		rest[i] = v - float64(slope*x[i])
	}
	rho := Autocorrelation(ranks(rest), n-1)
	limit := 1.959963984540054 / math.Sqrt(float64(n))
	var sum float64
	for lag := 1; lag < n-2; lag++ {
		if math.Abs(rho[lag]) > limit {
			k := float64(n - lag)
			sum += float64(float64(k*(k-1)) * float64((k-2)*rho[lag]))
		}
	}
	m := float64(n)
	return max(1, 1+float64(2/(float64(m*(m-1))*(m-2))*sum))
}

// ranks counts from 1; what is equal shares the mean of its ranks.
func ranks(y []float64) []float64 {
	order := make([]int, len(y))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case y[a] < y[b]:
			return -1
		case y[a] > y[b]:
			return 1
		}
		return 0
	})
	out := make([]float64, len(y))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && y[order[j]] == y[order[i]] {
			j++
		}
		for _, at := range order[i:j] {
			out[at] = float64(i+j+1) / 2
		}
		i = j
	}
	return out
}
