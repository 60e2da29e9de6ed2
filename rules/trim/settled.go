package trim

import (
	"math"

	"steadyrail/capture"
	"steadyrail/rules/trend"
	"steadyrail/rules/uncertainty"
)

// Settled reports whether every rail that is being read has settled: what is
// still to come lies below the smaller of a tenth of the band and a third of the
// meter's uncertainty (see [trend.Settle]). Without a rail that is read nothing
// has.
func (f *Fold) Settled(now capture.Instant) bool {
	any := false
	for _, w := range f.rails {
		if w.on.ID == "" || w.lastAt == 0 || now.Sub(w.lastAt) > max(staleAfter, 3*w.on.Every) {
			continue
		}
		if any = true; !w.settled() {
			return false
		}
	}
	return any
}

func (w *watch) settled() bool {
	if w.course.Span() < trend.LeastWatch { // the fit is spared
		return false
	}
	if n := w.coursedBy / forecastEvery; n != w.settledAt {
		limit := w.rail.HalfBand() / 5
		if u := uncertainty.State(uncertainty.Of(w.last, w.on.Accuracy)); u.Stated {
			limit = math.Min(limit, u.Expanded/3)
		}
		s := trend.Settle(w.course.Points(), trend.SettleOptions{Limit: limit, Unit: capture.Volt, Resolution: w.last.Resolution})
		w.settledAt, w.isSettled = n, s.Settled
	}
	return w.isSettled
}
