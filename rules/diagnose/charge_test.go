package diagnose

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// held reads a rail of R ohm that charges with tau, every 200 ms for a while.
func held(r, tau float64, long time.Duration) *charge {
	c := new(charge)
	for t := time.Duration(0); t <= long; t += 200 * time.Millisecond {
		c.add(capture.Instant(1_000_000).Add(t), r*(1-math.Exp(-(t.Seconds()+0.1)/tau)), 1e4)
	}
	return c
}

// After the time that is asked for, the change in 0.6 s is 5 % of the reading:
// that is what counts as steady, and not much less.
func TestHowLongToHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, tau := rapid.Float64Range(5, 1e5).Draw(t, "ohm"), rapid.Float64Range(1, 30).Draw(t, "tau")
		long := time.Duration((0.3 + tau*rapid.Float64Range(0.4, 2).Draw(t, "held")) * float64(time.Second))
		c := held(r, tau, max(long, 1200*time.Millisecond))
		more, rises, known := c.wait()
		if !rises || !known {
			t.Fatalf("a clean charging curve: %v, %v", rises, known)
		}
		at := c.to.Sub(c.from).Seconds() + 0.1 + more.Seconds()
		v := func(s float64) float64 { return r * (1 - math.Exp(-s/tau)) }
		if part := (v(at) - v(at-0.6)) / v(at); part > 0.052 || more > steadyFor && part < 0.03 {
			t.Fatalf("after %.2f s it moves by %.1f %% in 0.6 s", at, 100*part)
		}
	})
}

func TestHowLongIsSaid(t *testing.T) {
	for _, c := range []struct {
		name, want string
		charge     *charge
	}{
		{"+12 V of the stage piano", "held for 1.4 s, and by how its capacitors charge it takes about 5 s", held(4700, 2.2, 1400*time.Millisecond)},
		{"hardly begun", "too evenly to tell", held(4700, 60, 1400*time.Millisecond)},
		{"two readings", "clip the probe", held(4700, 2.2, 300*time.Millisecond)},
	} {
		if got := c.charge.say(); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	swings := new(charge)
	for i := range 200 {
		swings.add(capture.Instant(i*200_000+1), float64(100+70*(i%2)), 1e3)
	}
	if got := swings.say(); !strings.Contains(got, "up and down") || len(swings.points) >= mostCharged {
		t.Errorf("%d points, %q", len(swings.points), got)
	}
	again := held(4700, 2.2, 4*time.Second)
	again.add(again.to.Add(time.Second), 20, 100)
	if _, _, known := again.wait(); known {
		t.Error("a new range does not begin anew")
	}
}
