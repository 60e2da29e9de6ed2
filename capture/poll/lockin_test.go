package poll_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/poll"
)

// lookedAt runs the real loop for a minute at 200 ms and returns when the meter
// looked, the middles of its apertures.
func lookedAt(t *testing.T, opts poll.Options) (at []capture.Instant) {
	synctest.Test(t, func(t *testing.T) {
		_, s, stop := run(t, opts, nil, meter("dmm", 200*time.Millisecond))
		time.Sleep(time.Minute)
		stop()
		for _, f := range s.of("dmm/volts") {
			at = append(at, f.r.Measured)
		}
	})
	if len(at) < 295 || len(at) > 301 {
		t.Fatalf("%d polls in a minute", len(at))
	}
	return at
}

// missed returns in how many of so many random phases a low of 60 ms that comes
// once a period was hit by none of the looks.
func missed(r *rand.Rand, at []capture.Instant, period time.Duration, phases int) (n int) {
	const low = 60 * time.Millisecond
phase:
	for range phases {
		phase := time.Duration(r.Int64N(int64(period)))
		for _, a := range at {
			if (a.Sub(at[0])+phase)%period < low {
				continue phase
			}
		}
		n++
	}
	return n
}

// A fault in step with the polls hides from a loop that polls like a clock: the
// polls of a minute see 60 of each 200 ms of phase, so 70 % of phases go unseen.
// Dithered they see all. The tolerance is four standard deviations of a binomial
// share. What lies between, ±50 ms and 20 %, is tested on the schedule, for a
// loop dithers in full or not at all.
func TestAFaultInStepWithThePollsIsSeenForTheDither(t *testing.T) {
	const phases = 4000
	steady, dithered := lookedAt(t, poll.Options{Steady: true}), [][]capture.Instant{}
	for seed := range uint64(5) {
		dithered = append(dithered, lookedAt(t, poll.Options{Seed: seed + 1}))
	}
	r := rand.New(rand.NewPCG(60, 200))
	for _, period := range []time.Duration{200 * time.Millisecond, 400 * time.Millisecond, time.Second} {
		got := float64(missed(r, steady, period, phases)) / phases
		if within := 4 * math.Sqrt(0.7*0.3/phases); math.Abs(got-0.7) > within {
			t.Errorf("a low every %v, polled like a clock: unseen in %.1f %% of phases, want 70 ± %.1f %%", period, 100*got, 100*within)
		}
		for seed, at := range dithered {
			if n := missed(r, at, period, phases); n != 0 {
				t.Errorf("a low every %v, dithered with seed %d: unseen in %d of %d phases", period, seed+1, n, phases)
			}
		}
	}
}

// The price of the dither is that two looks may lie up to two intervals apart,
// and no further; polled like a clock they lie one apart.
func TestDitherMakesGapsOfUpToTwoIntervals(t *testing.T) {
	const every = 200 * time.Millisecond
	longest := func(at []capture.Instant) (gap time.Duration) {
		for i := 1; i < len(at); i++ {
			gap = max(gap, at[i].Sub(at[i-1]))
		}
		return gap
	}
	for seed := range uint64(5) {
		if gap := longest(lookedAt(t, poll.Options{Seed: seed + 1})); gap > 2*every || gap < 3*every/2 {
			t.Errorf("seed %d: longest gap %v of two intervals of %v", seed+1, gap, every)
		}
	}
	if gap := longest(lookedAt(t, poll.Options{Steady: true})); gap < every || gap > every+time.Millisecond {
		t.Errorf("polled like a clock: longest gap %v", gap)
	}
}
