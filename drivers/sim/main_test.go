package sim

import (
	"math"
	"strconv"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"steadyrail/capture"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var begin = capture.InstantOf(time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC))

// stepClock is a clock that jumps: whoever waits has waited at once. With it a
// test is the only one who moves time, and bench hours cost nothing.
type stepClock struct {
	mu  sync.Mutex
	now time.Duration
}

func (c *stepClock) Now() capture.Instant {
	c.mu.Lock()
	defer c.mu.Unlock()
	return begin.Add(c.now)
}

func (c *stepClock) After(d time.Duration) (<-chan time.Time, func()) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now += d
	ch := make(chan time.Time, 1)
	ch <- time.Time{}
	return ch, func() {}
}

// rig is a bench with a stepClock and no ports.
type rig struct {
	*Bench
	t     testing.TB
	clock *stepClock
}

func newRig(t testing.TB, seed uint64, sc Scenario) rig {
	t.Helper()
	clock := &stepClock{}
	return rig{Bench: NewBench(clock, seed, sc), t: t, clock: clock}
}

func (r rig) pass(d time.Duration) { r.clock.After(d) }

// say sends a message to an instrument and returns the answer.
func (r rig) say(instrument, message string) string {
	r.t.Helper()
	text, _ := r.device(instrument).exec(message, nil)
	return text
}

// setUp is say for what must not leave an error behind.
func (r rig) setUp(instrument string, messages ...string) {
	r.t.Helper()
	for _, m := range messages {
		r.say(instrument, m)
		if e := r.say(instrument, "SYST:ERR?"); e != `0,"No error"` {
			r.t.Fatalf("%s %q: %s", instrument, m, e)
		}
	}
}

func (r rig) read(instrument, message string) float64 {
	r.t.Helper()
	v, err := strconv.ParseFloat(r.say(instrument, message), 64)
	if err != nil {
		r.t.Fatalf("%s %s: %v", instrument, message, err)
	}
	return v
}

func (r rig) truth(name string) float64 {
	r.t.Helper()
	v, err := r.Truth(name)
	r.must(err)
	return v
}

func (r rig) must(err error) {
	r.t.Helper()
	if err != nil {
		r.t.Fatal(err)
	}
}

// powerUp fits the stand-in, trimmed to about 5 V, and switches the supply on.
func (r rig) powerUp() {
	r.t.Helper()
	r.must(r.Unplug(PS2))
	r.must(r.Plug(StandIn))
	r.pass(r.Turn(6.6) + time.Second)
	r.setUp(Supply, "VOLT 24;CURR 2.5", "VOLT:PROT 26", "OUTP ON")
	r.pass(3 * time.Second)
}

func near(t testing.TB, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %g, want %g within %g", what, got, want, within)
	}
}
