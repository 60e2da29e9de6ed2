package session_test

import (
	"testing"

	"steadyrail/capture"
	"steadyrail/drivers/session"
)

func TestRangeOf(t *testing.T) {
	ranges := []capture.Accuracy{{Range: 1, Resolution: 1e-5}, {Range: 10, Resolution: 1e-4}, {Range: 11, Resolution: 1e-4}, {Range: 100, Resolution: 1e-3}}
	for _, c := range []struct{ v, resolution, held, want float64 }{
		{0.5, 1e-5, 0, 1}, {-1.2, 1e-5, 0, 1}, {5, 1e-4, 0, 11}, {50, 1e-3, 0, 100}, {5, 1e-8, 0, 0}, {500, 1e-3, 0, 0}, {0, 1e-5, 0, 1},
		{5, 1e-4, 10, 10}, {50, 1e-3, 10, 100}, // what is held decides between two that fit, and never against the digits
	} {
		if got := session.RangeOf(ranges, c.v, c.resolution, c.held); got != c.want {
			t.Errorf("%v at %v: range %v, want %v", c.v, c.resolution, got, c.want)
		}
	}
}
