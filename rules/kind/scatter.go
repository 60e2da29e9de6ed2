package kind

import (
	"steadyrail/capture"
	"steadyrail/rules/trend"
	"steadyrail/rules/uncertainty"
)

// scatter is how well the spread of a window is known.
type scatter struct {
	u         uncertainty.Statement // of one reading: its digits and its gain
	low, high float64               // factors, see [uncertainty.DeviationFactors]
	stale     int                   // readings until the factors are taken anew
}

const (
	// middle80 is how many standard deviations of a normal distribution its
	// middle 80 % are wide: twice the 90 % quantile.
	middle80 = 2.5631031310892007
	// middleWorth is what a normal reading is worth in that width, measured by the
	// scatter of the result, of a reading in the standard deviation itself:
	// 1/2 over 0.16/(2 z φ(z))², z the 90 % quantile and φ the density there (the
	// asymptotic variance of two order statistics; Kendall and Stuart, The
	// Advanced Theory of Statistics, volume 1, 14.7; from memory).
	middleWorth = 0.6322
)

// bounds is within what the standard deviation lies when the window shows so
// much: each of the two quantiles may be off by half a count of the last digit,
// the rest is what so many independent readings leave open. A drop of the gain
// counts as well.
func (s *scatter) bounds(spread float64) (low, high float64) {
	count := s.u.Resolution / middle80
	gain := s.u.Accuracy.OfReading
	low = float64(max(0, spread-count) * float64(s.low*(1-gain)))
	return low, float64((spread + count) * float64(s.high*(1+gain)))
}

// follow takes the factors anew when an eighth of the window has changed: the
// correlation of the readings asks for all of them.
func (u *unrest) follow(r *capture.Reading) {
	if u.scatter.stale--; u.scatter.stale > 0 {
		return
	}
	u.scatter.stale = u.win.n / 8
	b := &u.scatter
	u.again(&b.u, &sample{mean: r.Value, n: 1, like: r})
	b.low, b.high = uncertainty.DeviationFactors(float64(middleWorth * trend.EffectiveForSpread(u.win.n, u.win.lag1())))
}
