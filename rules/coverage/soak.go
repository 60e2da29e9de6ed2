package coverage

import (
	"fmt"
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// Failures of an intermittent fault are taken to come at a constant rate under
// the same conditions (Poisson). Heat, movement and load change the rate; the
// report says which conditions held.

// UpperMean returns the largest expected number of failures that so few leave
// possible with the given confidence: the m at which r or fewer failures have
// the probability 1 - confidence, which is half the chi-squared quantile of
// 2r+2 degrees of freedom. 2.996 for none at 95 %. Confidence lies between 0
// and 1.
func UpperMean(failures int, confidence float64) float64 {
	if failures < 0 || !(confidence > 0) || !(confidence < 1) {
		return math.Inf(1)
	}
	low, high := 0.0, float64(failures)+10
	for poissonAtMost(failures, high) > 1-confidence {
		high *= 2
	}
	for range 200 {
		middle := low/2 + high/2
		if poissonAtMost(failures, middle) > 1-confidence {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

// poissonAtMost is the probability of at most r events where m are expected.
func poissonAtMost(r int, m float64) float64 {
	sum, logTerm := 0.0, -m
	for k := 0; k <= r; k++ {
		if k > 0 {
			logTerm += elementary.Log(m / float64(k))
		}
		sum += elementary.Exp(logTerm)
	}
	return sum
}

// UpperRate returns the highest rate of failures per hour that so many failures
// in so long leave possible; +Inf when nothing was watched.
func UpperRate(failures int, watched time.Duration, confidence float64) float64 {
	if watched <= 0 {
		return math.Inf(1)
	}
	return UpperMean(failures, confidence) / watched.Hours()
}

// SoakNeeded returns how long a clean soak must last to show, with the given
// confidence, that a fault which struck once per every is gone; seen is the
// chance that one occurrence is seen at all (see [Chance]), 1 when it cannot be
// missed. It is 0 when seen is 0: no soak can show it.
func SoakNeeded(every time.Duration, confidence, seen float64) time.Duration {
	if !(seen > 0) || every <= 0 {
		return 0
	}
	hours := UpperMean(0, confidence) * every.Hours() / min(1, seen)
	return time.Duration(min(hours, 1e6) * float64(time.Hour))
}

// UpperShare returns the largest share of power cycles that may still fail when
// n of n went well: 1 - (1-confidence)^(1/n). It is 1 of none.
func UpperShare(cycles int, confidence float64) float64 {
	if cycles <= 0 {
		return 1
	}
	return -elementary.Expm1(elementary.Log1p(-confidence) / float64(cycles))
}

// Proof says in a plain sentence what so many failures in so long prove at 95 %
// confidence, and nothing more.
func Proof(failures int, watched time.Duration) string {
	rate := UpperRate(failures, watched, 0.95)
	if math.IsInf(rate, 1) {
		return "Nothing was watched, so nothing is proven."
	}
	between := time.Duration(min(1/rate, 1e6) * float64(time.Hour))
	said := "without a failure prove"
	switch {
	case failures == 1:
		said = "with 1 failure prove"
	case failures > 1:
		said = fmt.Sprintf("with %d failures prove", failures)
	}
	return fmt.Sprintf("%s %s, with 95 %% confidence, that under these conditions it fails less often than once in %s on average. They prove no more than that.",
		Long(watched), said, Long(between))
}

// Long prints a length of time with two digits: "2.7 h", "9 min", "72 h". It
// rounds down, for a length that is a claim must not grow.
func Long(d time.Duration) string {
	for _, u := range []struct {
		unit string
		size time.Duration
	}{{"h", time.Hour}, {"min", time.Minute}, {"s", time.Second}} {
		if d < u.size {
			continue
		}
		tenths := int64(d / (u.size / 10))
		if tenths%10 == 0 || tenths >= 100 {
			return fmt.Sprintf("%d %s", tenths/10, u.unit)
		}
		return capture.Figure(float64(tenths)/10, 0.1) + " " + u.unit
	}
	return fmt.Sprintf("%d ms", d.Milliseconds())
}
