package uncertainty

import (
	"math"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// Spread is the distribution of an error: independent rectangular parts by
// their half-widths, convolved with a normal part by its standard deviation.
type Spread struct {
	Limits [3]float64 // 0: none
	Normal float64
}

// Spread returns the shape that a statement's parts make: the maker's limit,
// the last digit and the temperature rectangular; leads, scatter and
// what a formula's inputs come to normal.
func (s Statement) Spread() Spread {
	return Spread{
		Limits: [3]float64{s.Limit, s.Count / 2, s.Drift},
		Normal: math.Sqrt(float64(s.Lead*s.Lead) + float64(s.TypeA*s.TypeA) + float64(s.Given*s.Given)),
	}
}

// NormalAssumed reports whether the shape rests on more than a tenth of its
// variance that nobody knows to be normal: scatter, leads, a
// formula's inputs.
func (s Spread) NormalAssumed() bool {
	all := float64(s.Normal * s.Normal)
	for _, a := range s.Limits {
		all += float64(a*a) / 3
	}
	return float64(s.Normal*s.Normal) > all/10
}

// Below these parts of the largest half-width, or of the normal part's standard
// deviation, a rectangle is taken as normal of the same variance. Beside a normal part
// its fourth moment then shifts no probability by more than 1e-9, which is what the
// difference quotients of three smaller ones would lose by rounding, and more.
const (
	faint       = 1e-3
	faintNormal = 1e-2
)

// beyond so many standard deviations the normal part holds nothing that a
// float64 could tell from 0.
const beyond = 40

// shape sorts out which rectangles count as such; the rest goes to the normal
// part.
func (s Spread) shape() (rect []float64, normal float64) {
	largest := max(s.Limits[0], s.Limits[1], s.Limits[2])
	variance := float64(s.Normal * s.Normal)
	for _, a := range s.Limits {
		switch {
		case !(a > 0):
		case a < max(faint*largest, faintNormal*s.Normal):
			variance += float64(a*a) / 3
		default:
			rect = append(rect, a)
		}
	}
	return rect, math.Sqrt(variance)
}

// Below is the probability that the error is at most x. Of n rectangles and a
// normal it is a sum over the 2ⁿ corners of the n-fold integral of the normal
// distribution (a difference quotient in each half-width); of rectangles alone,
// of xⁿ/n! instead. Derived here, checked against Monte Carlo in the tests.
func (s Spread) Below(x float64) float64 {
	if x > 0 { // the shape is symmetric, and in the lower tail the terms are small
		return 1 - s.tail(-x)
	}
	return s.tail(x)
}

// tail is Below for no x above 0: there the terms grow, and their differences are lost
// in the rounding.
func (s Spread) tail(x float64) float64 {
	rect, normal := s.shape()
	reach := float64(beyond * normal)
	for _, a := range rect {
		reach += a
	}
	if x < -reach {
		return 0
	}
	unit := normal
	if len(rect) > 0 && normal < 1e-6*rect[0] {
		unit = 0
	}
	sum := 0.0
	for corner := range 1 << len(rect) {
		at, sign := x, 1.0
		for i, a := range rect {
			if corner&(1<<i) != 0 {
				at, sign = at-a, -sign
			} else {
				at += a
			}
		}
		sum += float64(sign * ramp(at, unit, len(rect)))
	}
	for _, a := range rect {
		sum /= 2 * a
	}
	return min(1, max(0, sum))
}

// ramp is the n-fold integral from minus infinity of the normal distribution
// function with standard deviation u, or of the unit step where u is 0.
func ramp(x, u float64, n int) float64 {
	if u == 0 {
		x = max(0, x)
		return [...]float64{1, x, float64(x*x) / 2, float64(float64(x*x)*x) / 6}[n]
	}
	z := x / u
	under, density := math.Erfc(-z/math.Sqrt2)/2, elementary.Exp(-float64(z*z)/2)/math.Sqrt(2*math.Pi)
	switch z2 := float64(z * z); n {
	case 1:
		return u * (float64(z*under) + density)
	case 2:
		return float64(u*u) * (float64((z2+1)*under) + float64(z*density)) / 2
	case 3:
		return float64(float64(u*u)*u) * (float64(z*(z2+3)*under) + float64((z2+2)*density)) / 6
	}
	return under
}

// Conforms is the probability that the true value lies inside the bounds, for a
// flat prior and an error of this shape (JCGM 106:2012, 7.2).
func (s Spread) Conforms(v float64, b capture.Bounds) float64 {
	high, low := 1.0, 0.0
	if b.HasHigh() {
		high = s.Below(b.High - v)
	}
	if b.HasLow() {
		low = s.Below(b.Low - v)
	}
	return max(0, high-low)
}

// Probability is that of conformance, to four decimals: its last digits depend
// on the processor, and no outcome hangs on it. It is 0 when nothing is stated.
func (s Statement) Probability(b capture.Bounds) float64 {
	if !s.Stated {
		return 0
	}
	return math.Round(float64(1e4*s.Spread().Conforms(s.Value, b))) / 1e4
}
