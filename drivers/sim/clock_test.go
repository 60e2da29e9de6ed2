package sim

import (
	"math"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
)

func TestClockRunsAtItsSpeed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := NewClock(begin, 60)
		time.Sleep(2 * time.Second)
		if got := c.Now().Sub(begin); got != 2*time.Minute {
			t.Errorf("after 2 s at 60: %s", got)
		}
		c.SetSpeed(1)
		time.Sleep(5 * time.Second)
		if got := c.Now().Sub(begin); got != 2*time.Minute+5*time.Second {
			t.Errorf("then 5 s at 1: %s", got)
		}
	})
}

func TestClockAfterFollowsTheSpeed(t *testing.T) {
	cases := []struct {
		name  string
		speed []float64 // one second of wall time each, then the last stays
		wait  time.Duration
		want  time.Duration // wall time
	}{
		{"one to one", []float64{1}, 3 * time.Second, 3 * time.Second},
		{"fast", []float64{100}, 10 * time.Second, 100 * time.Millisecond},
		{"slow, then fast", []float64{1, 10}, 11 * time.Second, 2 * time.Second},
		{"fast, then slow", []float64{10, 1}, 12 * time.Second, 3 * time.Second},
		{"stopped for a second", []float64{1, 0, 1}, 2 * time.Second, 3 * time.Second},
		{"longer than a timer is armed for", []float64{0.001}, 9 * time.Second, 9000 * time.Second},
		{"no wait", []float64{1}, 0, 0},
		{"past", []float64{1}, -time.Second, 0},
	}
	for _, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				c := NewClock(begin, tc.speed[0])
				start := time.Now()
				ch, _ := c.After(tc.wait)
				stop := make(chan struct{})
				go func() {
					for _, s := range tc.speed[1:] {
						select {
						case <-time.After(time.Second):
							c.SetSpeed(s)
						case <-stop:
							return
						}
					}
				}()
				<-ch
				close(stop)
				if got := time.Since(start); got.Round(time.Millisecond) != tc.want {
					t.Errorf("fired after %s, want %s", got, tc.want)
				}
				if c.Now().Sub(begin) < tc.wait {
					t.Errorf("fired before its bench time: %s", c.Now().Sub(begin))
				}
			})
		})
	}
}

func TestClockGivenUpNeverFires(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := NewClock(begin, 1)
		ch, giveUp := c.After(time.Second)
		giveUp()
		c.SetSpeed(5) // must not arm it again
		time.Sleep(time.Minute)
		select {
		case <-ch:
			t.Error("it fired")
		default:
		}
		if len(c.waiters) != 0 {
			t.Errorf("%d waiters left", len(c.waiters))
		}
	})
}

func TestClockNeverGoesBack(t *testing.T) {
	c := NewClock(begin, 1)
	last := c.Now()
	for _, s := range []float64{1000, 0, 3, math.NaN(), -5, math.Inf(1), 0.5} {
		c.SetSpeed(s)
		for range 50 {
			if now := c.Now(); now < last {
				t.Fatalf("speed %g: %s after %s", s, now, last)
			} else {
				last = now
			}
		}
	}
}

func TestLeashHoldsTheClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := capture.Instant(1_000_000)
		c := NewClock(start, 1000)
		c.Leash(start.Add(2 * time.Second))
		fire, stop := c.After(3 * time.Second)
		defer stop()
		defer c.Unleash()
		time.Sleep(100 * time.Millisecond)
		if got := c.Now().Sub(start); got != 2*time.Second {
			t.Fatalf("after 100 s of bench time on a leash of 2 s the clock shows %s", got)
		}
		select {
		case <-fire:
			t.Fatal("a wait beyond the leash ended")
		default:
		}
		c.Leash(start.Add(10 * time.Second))
		<-fire
		if got := c.Now().Sub(start); got != 3*time.Second {
			t.Fatalf("a wait of 3 s ended at %s: what was held back is not made up for", got)
		}
	})
}

func TestLeashSlackensForWhoMeasures(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := capture.Instant(1_000_000)
		c := NewClock(start, 1000)
		c.Leash(start.Add(time.Second))
		time.Sleep(10 * time.Millisecond) // at its end
		c.Slacken(40 * time.Millisecond)
		fire, stop := c.After(40 * time.Millisecond)
		defer stop()
		defer c.Unleash()
		<-fire
		if got := c.Now().Sub(start); got < 1040*time.Millisecond || got > 1050*time.Millisecond {
			t.Fatalf("the clock stands at %s", got)
		}
	})
}

// TestFineWaitsEnd waits in real time, for the short waits sleep by the system's
// clock: a thousand waits of a tenth of a second of bench time must all end, in
// order, and the goroutine that serves them with the last.
func TestFineWaitsEnd(t *testing.T) {
	c := NewClock(begin, 10_000)
	c.Fine()
	last := c.Now()
	for range 1000 {
		fire, stop := c.After(100 * time.Millisecond)
		<-fire
		stop()
		now := c.Now()
		if now.Sub(last) < 100*time.Millisecond {
			t.Fatalf("a wait of 100 ms ended after %s", now.Sub(last))
		}
		last = now
	}
}

func TestLeashGives(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := capture.Instant(1_000_000)
		c := NewClock(start, 1000)
		c.Leash(start.Add(time.Second))
		time.Sleep(patience + 10*time.Millisecond)
		if got := c.Now().Sub(start); got != time.Second+give {
			t.Fatalf("nobody lengthened the leash for %s, and the clock stands at %s", patience, got)
		}
		c.Unleash()
		time.Sleep(time.Second)
		if got := c.Now().Sub(start); got < 1000*time.Second {
			t.Fatalf("off the leash for a second, and the clock stands at %s", got)
		}
	})
}

// TestSteadyOnABusyComputer holds back the goroutine that looks, as a busy
// computer does.
func TestSteadyOnABusyComputer(t *testing.T) {
	const speed, lead = 1000, 5 * time.Millisecond
	c := NewClock(begin, speed)
	stop := c.Steady(lead)
	defer stop()
	c.mu.Lock()
	before := c.elapsed()
	time.Sleep(20 * lead)
	ran := c.elapsed() - before
	c.mu.Unlock()
	if ran > lead*speed {
		t.Errorf("while nobody looked %s of bench time passed, and no more than %s may", ran, lead*speed)
	}
	fire, give := c.After(10 * lead * speed)
	defer give()
	<-fire // it runs on
	stop()
	stop()
	if lost := c.Lost(); lost < 19*lead || lost > time.Minute {
		t.Errorf("nobody looked for %s, and it says that it lost %s", 20*lead, lost)
	}
}

// TestLostCountsWhatABusyComputerHeld, not what a leash of somebody else does, and in
// wall time whatever the speed.
func TestLostCountsWhatABusyComputerHeld(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := NewClock(begin, 10)
		c.Leash(begin.Add(time.Second))
		time.Sleep(300 * time.Millisecond)
		if lost := c.Lost(); lost != 0 {
			t.Errorf("on somebody's leash: %s", lost)
		}
		c.steadied(true)
		c.Leash(c.Now().Add(200 * time.Millisecond)) // 20 ms of wall time
		time.Sleep(120 * time.Millisecond)
		if lost := c.Lost(); lost != 100*time.Millisecond {
			t.Errorf("while it stands: %s", lost)
		}
		c.Leash(c.Now().Add(time.Second))
		time.Sleep(90 * time.Millisecond)
		if lost := c.Lost(); lost != 100*time.Millisecond {
			t.Errorf("while it runs again: %s", lost)
		}
		c.steadied(false)
		c.Unleash()
		time.Sleep(time.Second)
		if lost := c.Lost(); lost != 100*time.Millisecond {
			t.Errorf("off the leash: %s", lost)
		}
	})
}
