package coverage_test

import (
	"math"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
)

// Intervals with a reading and the share that was looked at are two things: a
// meter that looks for 20 ms five times a second answers every poll and looks a
// tenth of the time. One that never rests and spends as long on its own zero as
// on its input looks half of the time.
func TestAnsweredIsNotObserved(t *testing.T) {
	for _, c := range []struct {
		every, aperture    time.Duration
		lost               int // of 100 polls
		answered, observed float64
	}{{200 * ms, 20 * ms, 0, 1, 0.1}, {200 * ms, 20 * ms, 25, 0.75, 0.075}, {40 * ms, 20 * ms, 0, 1, 0.5}, {400 * ms, 380 * ms, 0, 1, 0.95}} {
		b, at := coverage.New("dmm/volts", start, coverage.Options{Aperture: c.aperture, Every: c.every}), start
		for i := range 100 {
			at = at.Add(c.every)
			r := good(5)
			if i < c.lost {
				r.Flags = capture.TimedOut
			}
			b.Add(at, r)
		}
		if w := b.Watch(at); math.Abs(w.Answered-c.answered) > 1e-9 || math.Abs(w.Observed-c.observed) > 1e-9 {
			t.Errorf("%v: answered %g, observed %g", c, w.Answered, w.Observed)
		}
	}
}

func TestWatchCountsWhatLiesOutsideTheBand(t *testing.T) {
	for _, c := range []struct {
		bounds capture.Bounds
		want   int
	}{{capture.Bounds{Low: 4.9, High: 5.1}, 2}, {capture.Bounds{Low: math.Inf(-1), High: 5.1}, 1}, {capture.Bounds{}, 0}} {
		b := coverage.New("dmm/volts", start, coverage.Options{Bounds: c.bounds})
		for i, v := range []float64{5, 4.9, 4.89, 5.1, 5.11} {
			b.Add(start.Add(time.Duration(i+1)*time.Second), good(v))
		}
		bad := good(9)
		bad.Flags = capture.TimedOut
		b.Add(start.Add(time.Minute), bad)
		if w := b.Watch(start.Add(time.Minute)); w.Outside != c.want {
			t.Errorf("%v: %d outside, want %d", c.bounds, w.Outside, c.want)
		}
	}
}
