package rules

import (
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
	"steadyrail/rules/trend"
)

// What a rail shows while a plan has its power off, and while it comes up again,
// is none of its figures: the meter looked, and nothing more.
func TestReadingsWhilePowerIsOffAreNoFiguresOfTheRail(t *testing.T) {
	x := &watchWalk{
		build: coverage.New("dmm/volts", at(0), coverage.Options{Bounds: five.Bounds, Aperture: 20 * time.Millisecond, Every: time.Second, Statistics: &trend.Moments{}}),
		fell:  &faller{rail: five, idle: []capture.Gap{{From: at(10), To: at(20), Reason: planOff}}},
	}
	for i := range 60 {
		v := 5.0
		switch {
		case i >= 10 && i < 20:
			v = 0
		case i >= 20 && i < 23:
			v = 2 // comes up
		case i == 50:
			v = 4 // a fall that counts
		}
		r := volts("dmm/volts", v)
		x.tally(at(float64(i)), r)
		x.fell.read(at(float64(i)), r)
	}
	w := x.build.Watch(at(60))
	if w.N != 47 || w.Outside != 1 || w.Min != 4 || w.LongestGap > 2*time.Second {
		t.Errorf("%d readings, %d outside, least %g, longest gap %v", w.N, w.Outside, w.Min, w.LongestGap)
	}
}
