package walk

import (
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

const (
	steadyCount = 3                      // readings that are looked at, at least
	steadySpan  = 300 * time.Millisecond // they cover this, at least
	keptFor     = time.Second            // and no more than this,
	keptLeast   = 6                      // or so many,
	keptPart    = 5                      // or such a part of the touch: a slow change takes longer to see
	// confidence is the one-sided 95 % quantile of the normal distribution.
	confidence = 1.645
)

type sample struct {
	at capture.Instant
	v  float64
}

// settling watches one contact. The zero value has seen nothing.
type settling struct {
	first sample
	kept  []sample
	n     int
}

func (s *settling) add(at capture.Instant, v float64) {
	if s.n == 0 {
		s.first = sample{at, v}
	}
	s.n++
	s.kept = append(s.kept, sample{at, v})
	for len(s.kept) > keptLeast && at.Sub(s.kept[0].at) > max(keptFor, at.Sub(s.first.at)/keptPart) {
		s.kept = s.kept[1:]
	}
}

func (s *settling) mean() float64 {
	sum := 0.0
	for _, k := range s.kept {
		sum += k.v
	}
	return sum / float64(len(s.kept))
}

// spread is largest minus smallest of what is kept.
func (s *settling) spread() float64 {
	low, top := math.Inf(1), math.Inf(-1)
	for _, k := range s.kept {
		low, top = min(low, k.v), max(top, k.v)
	}
	return top - low
}

func (s *settling) enough() bool {
	return len(s.kept) >= steadyCount && s.kept[len(s.kept)-1].at.Sub(s.kept[0].at) >= steadySpan
}

// since is how long the contact has lasted.
func (s *settling) since(at capture.Instant) time.Duration {
	if s.n == 0 {
		return 0
	}
	return at.Sub(s.first.at)
}

// steady reports whether the change still to come is below tol, with 95 % of
// confidence, and if not how long that may take; 0: nobody knows. noise is the
// standard deviation of a reading.
//
// A slope alone lies: at a time constant of 100 s a figure that hardly moves
// may be tens of per cent from its end. So an exponential that began at the
// touch is assumed, v = v0 + c·(1-e^-x)/(1-e^-X), as an ohmmeter's constant
// current charges a capacitor. From the slope s now, the change c since the
// touch and the time T that it took,
//
//	s·T/c = x/(e^x - 1)   gives x = T/tau, and   rest = c/(e^x - 1)
//
// (derived from the charging law). Where neither slope nor change stands out of
// the noise there is nothing to settle.
func (s *settling) steady(tol, noise float64) (stands bool, more time.Duration) {
	if !s.enough() {
		return false, 0
	}
	quiet := s.spread() <= tol
	if s.flat(noise) {
		return quiet, 0
	}
	rest, tau := s.rest(noise)
	switch {
	case tau <= 0:
		return false, 0
	case rest <= tol:
		return quiet, 0
	}
	return false, time.Duration(tau * elementary.Log(rest/tol) * float64(time.Second))
}

// flat reports whether neither slope nor change stands out of the noise.
func (s *settling) flat(noise float64) bool {
	slope, u := s.slope(noise)
	return math.Abs(slope) <= float64(2*u) && math.Abs(s.mean()-s.first.v) <= float64(3*noise)
}

// rest is what is still to come after the newest reading, at most, and the time
// constant in seconds; 0 where it does not slacken. The slope is that of the middle of
// what is kept: the rest is taken from there to the newest reading by the same law.
func (s *settling) rest(noise float64) (rest, tau float64) {
	slope, u := s.slope(noise)
	middle, newest := s.middle(), s.kept[len(s.kept)-1]
	change, span := s.mean()-s.first.v, middle.Sub(s.first.at).Seconds()
	rest, x := remaining(float64((math.Abs(slope)+float64(confidence*u))*span), math.Abs(change))
	if x <= 0 {
		return rest, 0
	}
	tau = span / x
	return rest * elementary.Exp(-newest.at.Sub(middle).Seconds()/tau), tau
}

// middle is the mean instant of what is kept.
func (s *settling) middle() capture.Instant {
	t0 := s.kept[0].at
	var sum capture.Instant
	for _, k := range s.kept {
		sum += k.at - t0
	}
	return t0 + sum/capture.Instant(len(s.kept))
}

// remaining solves x/(e^x-1) = run/change for x by halving and returns
// rest = change/(e^x-1). A run as long as the change or longer is a straight
// line: nobody knows where it ends, and x is 0.
func remaining(run, change float64) (rest, x float64) {
	if change <= 0 || run >= change {
		return math.Inf(1), 0
	}
	low, top := 0.0, 50.0
	for range 60 {
		x = (low + top) / 2
		if float64(x*change) > float64(run*elementary.Expm1(x)) {
			low = x
		} else {
			top = x
		}
	}
	return change / elementary.Expm1(top), top
}

// slope is that of least squares, per second, with its standard uncertainty.
func (s *settling) slope(noise float64) (slope, u float64) {
	middle, mean := s.middle(), s.mean()
	var txx, txy float64
	for _, k := range s.kept {
		d := k.at.Sub(middle).Seconds()
		txx += float64(d * d)
		txy += float64(d * (k.v - mean))
	}
	return txy / txx, noise / math.Sqrt(txx)
}
