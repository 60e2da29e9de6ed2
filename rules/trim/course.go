package trim

import (
	"fmt"
	"math"

	"steadyrail/capture"
	"steadyrail/rules/trend"
)

// coursed says where the rail will end when nobody touches it, and what to trim
// to now so that it ends on target. Nothing is foretold below two time constants,
// before the least watch or while a slower warming is under way (see
// [trend.Foretell]); its refusal is passed on.
func (w *watch) coursed() capture.Course {
	if span := w.course.Span(); span < trend.LeastWatch { // the fit is spared
		return capture.Course{Say: fmt.Sprintf("Not yet known: watched %d of %d min", int(span.Minutes()), int(trend.LeastWatch.Minutes()))}
	}
	f := w.forecast()
	if !f.Known {
		return capture.Course{Say: "Not yet known: " + lowered(f.Say)}
	}
	c := capture.Course{Known: true, Final: f.Final, U: float64(2 * f.U)}
	s := w.rail.Sized(f.Final)
	off := s.Value - s.Target
	way := "high"
	if off < 0 {
		way = "low"
	}
	switch worth := max(w.worth(), c.U); {
	case math.Abs(off) <= worth:
		c.Say = fmt.Sprintf("Will end %s, within %s of the target: leave it", w.volts(f.Final), capture.Volt.Text(worth, digits(worth)))
	default:
		now, _ := w.track.now()
		to := now.mean - off
		if now.n == 0 {
			to = w.size(w.last.Value) - off
		}
		if w.rail.Nominal < 0 {
			to = -to
		}
		c.TrimT = to
		c.Say = fmt.Sprintf("Will end %s %s, give or take %s: trim to %s now", w.distance(off), way, capture.Volt.Text(c.U, digits(c.U)), w.volts(to))
	}
	return c
}

// forecast fits anew only when a block was closed: screens ask ten times a second.
func (w *watch) forecast() trend.Forecast {
	if n := w.coursedBy / forecastEvery; n != w.fittedAt || w.foretold.Say == "" {
		w.fittedAt = n
		w.foretold = trend.Foretell(w.course.Points(), trend.SettleOptions{Unit: capture.Volt, Resolution: w.last.Resolution})
	}
	return w.foretold
}

// forecastEvery is how many readings pass between two fits.
const forecastEvery = 64

// worth is a distance from the target that is worth a turn of the screw: a
// tenth of half the band.
func (w *watch) worth() float64 { return w.rail.HalfBand() / 10 }

func lowered(s string) string {
	const told = "Not told: "
	if len(s) > len(told) && s[:len(told)] == told {
		return s[len(told):]
	}
	return s
}
