package coverage

import (
	"math"
	"time"

	"steadyrail/capture/elementary"
)

// The bounds are exact: Poisson for failures in a time (Garwood 1936), binomial
// for failures in a number of trials (Clopper and Pearson 1934). Each is found
// where the probability of what was counted meets what is left to chance. A
// confidence lies between 0 and 1; where an argument makes no sense, a bound
// excludes nothing: 0 below, +Inf or 1 above.

// LowerMean returns the smallest expected number of failures that so many leave
// possible with the given confidence: the m at which as many or more have the
// probability 1 - confidence. It is 0 when none was seen.
func LowerMean(failures int, confidence float64) float64 {
	if failures <= 0 || !within(confidence) {
		return 0
	}
	return crossing(0, float64(failures)+10, func(m float64) bool { return 1-poissonAtMost(failures-1, m) < 1-confidence })
}

// MeanInterval returns the two-sided interval of the expected number of
// failures: what is left to chance is halved.
func MeanInterval(failures int, confidence float64) (low, high float64) {
	if !within(confidence) {
		return 0, math.Inf(1)
	}
	each := (1 + confidence) / 2
	return LowerMean(failures, each), UpperMean(failures, each)
}

// RateInterval returns the two-sided interval of the rate of failures per hour,
// for so many in so long; 0 to +Inf when nothing was watched.
func RateInterval(failures int, watched time.Duration, confidence float64) (low, high float64) {
	if watched <= 0 {
		return 0, math.Inf(1)
	}
	low, high = MeanInterval(failures, confidence)
	return low / watched.Hours(), high / watched.Hours()
}

// UpperFailing returns the largest share of trials that may fail when so many of
// n did: the p at which as few or fewer have the probability 1 - confidence. For
// none it is 1 - (1-confidence)^(1/n), which is [UpperShare].
func UpperFailing(failures, n int, confidence float64) float64 {
	if failures < 0 || failures >= n || !within(confidence) {
		return 1
	}
	return crossing(0, 1, func(p float64) bool { return binomialAtMost(failures, n, p) > 1-confidence })
}

// LowerFailing returns the smallest share of trials that fails, when so many of
// n did; 0 for none.
func LowerFailing(failures, n int, confidence float64) float64 {
	if failures <= 0 || failures > n || !within(confidence) {
		return 0
	}
	return crossing(0, 1, func(p float64) bool { return 1-binomialAtMost(failures-1, n, p) < 1-confidence })
}

// ShareInterval returns the two-sided interval of the share of trials that fail.
func ShareInterval(failures, n int, confidence float64) (low, high float64) {
	if !within(confidence) {
		return 0, 1
	}
	each := (1 + confidence) / 2
	return LowerFailing(failures, n, each), UpperFailing(failures, n, each)
}

func within(confidence float64) bool { return confidence > 0 && confidence < 1 }

// crossing halves an interval until it is as short as numbers are: below holds
// up to the place that is looked for, and not from there on. Where it still holds
// at high, high is doubled first, unless it is 1: a share.
func crossing(low, high float64, below func(float64) bool) float64 {
	for high > 1 && below(high) {
		high *= 2
	}
	for range 200 {
		middle := low/2 + high/2
		if below(middle) {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

// binomialAtMost is the probability of at most r events in n trials of
// probability p.
func binomialAtMost(r, n int, p float64) float64 {
	switch {
	case r >= n || p <= 0:
		return 1
	case p >= 1:
		return 0
	}
	logTerm := float64(float64(n) * elementary.Log1p(-p))
	odds := elementary.Log(p) - elementary.Log1p(-p)
	sum := elementary.Exp(logTerm)
	for k := 1; k <= r; k++ {
		logTerm += elementary.Log(float64(n-k+1)/float64(k)) + odds
		sum += elementary.Exp(logTerm)
	}
	return min(1, sum)
}
