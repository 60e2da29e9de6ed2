package trend

import (
	"errors"
	"fmt"
	"math"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// ErrTolerance is wrapped when a tolerance interval was asked for that does not exist.
var ErrTolerance = errors.New("no tolerance interval")

// toleranceSteps divides the range of the mean over which confidence is summed
// up (Simpson's rule).
const toleranceSteps = 200

// ToleranceFactor returns the k with which mean ± k·s holds at least the share p
// of a normal population, with the given confidence, when both mean and standard
// deviation were estimated from n values (ISO 16269-6:2014, two-sided). It
// solves the exact relation
//
//	confidence = √(2n/π) ∫₀^∞ P(χ²_{n−1} > (n−1)·r(x)²/k²)·exp(−n·x²/2) dx,
//	Φ(x+r) − Φ(x−r) = p
//
// (Odeh and Owen, Tables for Normal Tolerance Limits, 1980, form from memory),
// and is rounded to four significant digits, so that nothing hangs on a
// processor's last ones. The error wraps [ErrTolerance].
func ToleranceFactor(n int, p, confidence float64) (float64, error) {
	switch {
	case n < 2:
		return 0, fmt.Errorf("%w: %d values, 2 at least", ErrTolerance, n)
	case !(p > 0 && p < 1 && confidence > 0 && confidence < 1):
		return 0, fmt.Errorf("%w: share %g and confidence %g must lie between 0 and 1", ErrTolerance, p, confidence)
	}
	t := newTolerance(n, p)
	low, high := 0.0, 1.0
	for t.confidence(high) < confidence {
		low, high = high, 2*high
		if high > 1e9 {
			return 0, fmt.Errorf("%w: with %d values none has this confidence", ErrTolerance, n)
		}
	}
	for range 60 {
		if mid := (low + high) / 2; t.confidence(mid) < confidence {
			low = mid
		} else {
			high = mid
		}
	}
	unit := capture.Decade(high) / 1000
	return math.Round(high/unit) * unit, nil
}

// tolerance holds what does not depend on k: the weights of the means and the
// half-width r that each of them needs.
type tolerance struct {
	n       int
	weights [toleranceSteps + 1]float64
	r2      [toleranceSteps + 1]float64
}

func newTolerance(n int, p float64) *tolerance {
	t := &tolerance{n: n}
	step := 8 / math.Sqrt(float64(n)) / toleranceSteps // beyond eight standard errors nothing is left
	for i := range t.weights {
		x := float64(step * float64(i))
		w := 2.0
		switch {
		case i == 0 || i == toleranceSteps:
			w = 1
		case i%2 == 1:
			w = 4
		}
		t.weights[i] = float64(w*step) / 3 * math.Sqrt(2*float64(n)/math.Pi) * elementary.Exp(-float64(n)*float64(x*x)/2)
		r := halfWidth(x, p)
		t.r2[i] = float64(r * r)
	}
	return t
}

// halfWidth solves Φ(x+r) − Φ(x−r) = p for r.
func halfWidth(x, p float64) float64 {
	low, high := 0.0, x+10
	for range 60 {
		if mid := (low + high) / 2; normalBelow(x+mid)-normalBelow(x-mid) < p {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

func normalBelow(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

func (t *tolerance) confidence(k float64) float64 {
	v := float64(t.n - 1)
	var sum float64
	for i, w := range t.weights {
		sum += float64(w * chiSquareAbove(float64(v*t.r2[i])/float64(k*k), v))
	}
	return sum
}

// chiSquareAbove is the probability that chi-square with v degrees of freedom
// exceeds x: the regularised upper incomplete gamma function, by its series
// below and its continued fraction above the mean (Abramowitz and Stegun 6.5.29,
// 6.5.31).
func chiSquareAbove(x, v float64) float64 {
	a, z := v/2, x/2
	if z <= 0 {
		return 1
	}
	lg, _ := math.Lgamma(a)
	front := elementary.Exp(float64(a*elementary.Log(z)) - z - lg)
	if z < a+1 {
		return 1 - float64(front*gammaSeries(a, z))
	}
	return float64(front * gammaFraction(a, z))
}

func gammaSeries(a, z float64) float64 {
	term := 1 / a
	sum := term
	for n := 1; n < 1000 && term > sum*1e-16; n++ {
		term = float64(term*z) / (a + float64(n))
		sum += term
	}
	return sum
}

// gammaFraction evaluates 1/(z+1−a− 1(1−a)/(z+3−a− …)) by Lentz's method.
func gammaFraction(a, z float64) float64 {
	const tiny = 1e-300
	b := z + 1 - a
	c, d := 1/tiny, 1/b
	h := d
	for n := 1.0; n < 1000; n++ {
		an := -float64(n * (n - a))
		b += 2
		if d = float64(an*d) + b; math.Abs(d) < tiny {
			d = tiny
		}
		if c = b + an/c; math.Abs(c) < tiny {
			c = tiny
		}
		d = 1 / d
		delta := float64(d * c)
		if h = float64(h * delta); math.Abs(delta-1) < 1e-15 {
			break
		}
	}
	return h
}
