package poll_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/capture/poll"
)

const start = capture.Instant(1_900_000_000_000_123)

// unseen returns the share of phases in which a periodic low of 60 ms is hit by
// none of the 300 polls of a minute at 200 ms.
func unseen(period time.Duration, dither float64) float64 {
	const phases, polls, every, low = 2000, 300, 200 * time.Millisecond, 60 * time.Millisecond
	s := poll.NewSchedule(start, every, dither, 147)
	var at [polls]time.Duration
	for k := range at {
		at[k] = s.Slot(int64(k)).Sub(start) + every
	}
	blind := 0
phase:
	for p := range phases {
		phase := period * time.Duration(p) / phases
		for _, a := range at {
			if (a+phase)%period < low {
				continue phase
			}
		}
		blind++
	}
	return float64(blind) / phases
}

// Values of a study for this project, found there by simulation; without dither and with a
// quarter of it they follow from the geometry: a poll in step sees 60 of each
// 200 ms of phase, one spread over 100 ms sees 160 of them.
func TestDitherKeepsAPeriodicFaultFromHiding(t *testing.T) {
	for _, period := range []time.Duration{200 * time.Millisecond, 400 * time.Millisecond, time.Second} {
		for _, c := range []struct{ dither, want, within float64 }{
			{0, 0.70, 0.01},
			{0.5, 0.20, 0.03},
			{1, 0, 0},
		} {
			if got := unseen(period, c.dither); math.Abs(got-c.want) > c.within {
				t.Errorf("a low every %v, dither %g: unseen in %.1f %% of phases, want %.0f %%", period, c.dither, 100*got, 100*c.want)
			}
		}
	}
}

func TestSlotsNeitherDriftNorBunch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		every := time.Duration(rapid.Int64Range(1, 3_600_000_000).Draw(t, "every")) * time.Microsecond
		s := poll.NewSchedule(start, every, 1, rapid.Uint64().Draw(t, "seed"))
		k := rapid.Int64Range(0, 1_000_000).Draw(t, "k")
		grid := start.Add(time.Duration(k) * every)
		if d := s.Slot(k).Sub(grid); d < -every/2-time.Microsecond || d > every/2 {
			t.Fatalf("slot %d lies %v from its grid point, every %v", k, d, every)
		}
		if s.Slot(k+1) < s.Slot(k) {
			t.Fatalf("slot %d comes before slot %d", k+1, k)
		}
	})
}

// The dither is uniform and slots do not know of each other: chi-squared over
// 16 classes, 99.9 % point of 15 degrees of freedom 37.7 (NIST/SEMATECH
// e-Handbook of Statistical Methods, 1.3.6.7.4), and lag-one correlation within
// 4/sqrt(n).
func TestDitherIsUniformAndUncorrelated(t *testing.T) {
	const n, every = 20_000, 200 * time.Millisecond
	s := poll.NewSchedule(start, every, 1, 8)
	var classes [16]float64
	var before, lag float64
	for k := range int64(n) {
		u := float64(s.Slot(k).Sub(start.Add(time.Duration(k)*every)))/float64(every) + 0.5
		classes[min(15, max(0, int(u*16)))]++
		lag += (u - 0.5) * before * 12
		before = u - 0.5
	}
	chi := 0.0
	for _, c := range classes {
		chi += (c - n/16.) * (c - n/16.) / (n / 16.)
	}
	if chi > 37.7 {
		t.Errorf("chi-squared %.1f", chi)
	}
	if r := lag / n; math.Abs(r) > 4/math.Sqrt(n) {
		t.Errorf("lag-one correlation %.4f", r)
	}
}

func TestNextSkipsWhatWasOvertaken(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		every := time.Duration(rapid.Int64Range(1, 10_000_000).Draw(t, "every")) * time.Microsecond
		s := poll.NewSchedule(start, every, float64(rapid.IntRange(0, 1).Draw(t, "dither")), 3)
		now, k := start, int64(0)
		for range 50 {
			now = max(now, s.Due()).Add(time.Duration(rapid.Int64Range(0, 50_000_000).Draw(t, "took")) * time.Microsecond)
			k += 1 + s.Next(now)
			if s.Due() != s.Slot(k) {
				t.Fatalf("the pending slot is not slot %d: a slot was neither used nor counted", k)
			}
			if s.Slot(k+1) <= now {
				t.Fatalf("slot %d is pending though slot %d is due", k, k+1)
			}
		}
	})
}

func TestStampHoldsTheTruth(t *testing.T) {
	ms := func(n int64) time.Duration { return time.Duration(n) * time.Millisecond }
	rapid.Check(t, func(t *rapid.T) {
		span := func(name string) time.Duration { return ms(rapid.Int64Range(0, 400).Draw(t, name)) }
		before, aperture, lag, wire, after := span("before"), span("aperture"), span("lag"), span("transfer"), span("after")
		truth := start.Add(before + aperture/2)
		end := start.Add(before + aperture + lag + wire + after)
		measured, half, begun := poll.Stamp(start, end, aperture, lag, wire, rapid.Bool().Draw(t, "runs"))
		if d := measured.Sub(truth).Abs(); d > half {
			t.Fatalf("measured %v off, half-width %v", d, half)
		}
		if begun > start {
			t.Fatalf("begun %v after the request", begun.Sub(start))
		}
	})
	t.Run("a running meter", func(t *testing.T) {
		// It averages 380 ms at a time without end and answers at once with the
		// last finished average, 20 ms after the request (computed by hand).
		for age := int64(0); age < 380; age++ {
			request := start.Add(time.Second)
			ended := request.Add(-ms(age))
			measured, half, begun := poll.Stamp(request, request.Add(ms(20)), ms(380), ms(20), 0, false)
			if d := measured.Sub(ended.Add(-ms(190))).Abs(); d > half {
				t.Fatalf("age %d ms: measured %v off, half-width %v", age, d, half)
			}
			if begun > ended.Add(-ms(380)) {
				t.Fatalf("age %d ms: begun too late", age)
			}
		}
	})
	t.Run("9600 baud", func(t *testing.T) {
		// 16 characters of 10 bits are 16.7 ms: a symmetric
		// midpoint would be 8 ms late.
		measured, half, _ := poll.Stamp(start, start.Add(ms(20)+16667*time.Microsecond), ms(20), 0, 16667*time.Microsecond, false)
		if measured != start.Add(ms(10)) || half > 2*time.Microsecond {
			t.Errorf("measured %v after the request, half-width %v", measured.Sub(start), half)
		}
	})
}
