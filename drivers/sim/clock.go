package sim

import (
	"math"
	"sync"
	"time"

	"steadyrail/capture"
)

// Clock is the bench's time: the computer's monotonic clock times a speed
// factor that may change while it runs. It satisfies [capture.Clock], never
// goes backwards, and is safe for concurrent use.
type Clock struct {
	mu      sync.Mutex
	start   capture.Instant
	wall    time.Time     // where the present straight piece begins
	bench   time.Duration // bench time passed up to there
	speed   float64
	waiters map[*waiter]struct{}
	leash   time.Duration // bench time since start that may not be passed; 0: none
	held    *time.Timer   // lets go of a leash that nobody lengthens
	fine    bool          // short waits do not take the runtime's timers
	runs    bool          // the goroutine of the short waits
	calm    bool          // the leash is that of Steady
	lost    time.Duration // wall time for which that leash held it
}

// NewClock returns a running clock that shows start now and then runs speed
// times as fast as the computer's. For speed see [Clock.SetSpeed].
func NewClock(start capture.Instant, speed float64) *Clock {
	return &Clock{start: start, wall: time.Now(), speed: saneSpeed(speed), waiters: map[*waiter]struct{}{}}
}

func saneSpeed(s float64) float64 {
	if !(s > 0) {
		return 0
	}
	return math.Min(s, 1e6)
}

// Now returns the present bench time.
func (c *Clock) Now() capture.Instant {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.start.Add(c.elapsed())
}

func (c *Clock) elapsed() time.Duration {
	ran := c.bench + time.Duration(float64(time.Since(c.wall))*c.speed)
	if c.leash != 0 && ran > c.leash {
		return max(c.leash, c.bench)
	}
	return ran
}

// fold begins a new straight piece.
func (c *Clock) fold() {
	c.lost += c.standing()
	c.bench, c.wall = c.elapsed(), time.Now()
}

// standing is for how long, in wall time, the leash of [Clock.Steady] has held the
// clock in the present piece.
func (c *Clock) standing() time.Duration {
	if !c.calm || c.leash == 0 || c.speed == 0 {
		return 0
	}
	runs := time.Duration(float64(max(c.leash-c.bench, 0)) / c.speed)
	return max(0, time.Since(c.wall)-runs)
}

// Lost returns for how long, in wall time, the clock has stood still since it was
// made because the computer did not serve it in time, see [Clock.Steady]. What a
// [Clock.Leash] of somebody else holds back is wanted, and not counted.
func (c *Clock) Lost() time.Duration {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.lost + c.standing()
}

// A leash that nobody lengthens holds the clock for so long, in wall time, and
// then gives by so much: a meter that is gone must not stop the bench for good.
const (
	patience = time.Second
	give     = time.Second
)

// Leash keeps the clock from passing an instant until a later one is given. A
// fast clock on a busy computer would otherwise run away from the meters: a
// hiccup of three milliseconds is three seconds of silence at a thousand times
// the speed. Time that was held back is not made up for. [Clock.Unleash] ends
// it.
func (c *Clock) Leash(until capture.Instant) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.fold()
	c.leash = until.Sub(c.start)
	if c.held == nil {
		c.held = time.AfterFunc(patience, c.slip)
	} else {
		c.held.Reset(patience)
	}
	c.rearm()
}

// Slacken lengthens a leash so that it does not end within d of bench time:
// who is measuring needs it to get done.
func (c *Clock) Slacken(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.leash == 0 || c.elapsed()+d < c.leash {
		return
	}
	c.fold()
	c.leash = c.bench + d + time.Millisecond
	c.rearm()
}

// slip lengthens a leash that nobody else did.
func (c *Clock) slip() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.leash == 0 {
		return
	}
	c.fold()
	c.leash += give
	c.held.Reset(patience)
	c.rearm()
}

// Unleash lets the clock run freely again.
func (c *Clock) Unleash() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.fold()
	c.leash = 0
	if c.held != nil {
		c.held.Stop()
	}
	c.rearm()
}

// Steady keeps the clock, until the function that it returns is called, from
// passing more bench time at once than the computer can serve: it never runs
// further than lead of wall time beyond the last look of a goroutine of its own,
// and what a computer that is busy elsewhere missed is not made up for. Without
// it a pause of half a second is seconds of silence of every meter on a bench that
// runs fast. It uses the leash.
func (c *Clock) Steady(lead time.Duration) (stop func()) {
	ahead := func() { c.Leash(c.Now().Add(max(1, time.Duration(float64(lead)*c.Speed())))) }
	ahead()
	c.steadied(true)
	done, ended := make(chan struct{}), make(chan struct{})
	tick := time.NewTicker(max(1, lead/4))
	go func() {
		defer close(ended)
		defer tick.Stop()
		for {
			select {
			case <-tick.C:
				ahead()
			case <-done:
				c.steadied(false)
				c.Unleash()
				return
			}
		}
	}()
	return sync.OnceFunc(func() { close(done); <-ended })
}

// steadied notes whether the leash is that of Steady from now on.
func (c *Clock) steadied(calm bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.fold()
	c.calm = calm
}

func (c *Clock) rearm() {
	for w := range c.waiters {
		w.timer.Stop()
		c.arm(w)
	}
}

// Speed returns how many seconds of bench time pass in a second.
func (c *Clock) Speed() float64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.speed
}

// SetSpeed changes the speed from now on; what has passed stays as it was, and
// whoever waits in [Clock.After] waits on in the new speed. Zero stops the
// clock; a negative number or NaN counts as zero, and a million is the most.
func (c *Clock) SetSpeed(speed float64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.fold()
	c.speed = saneSpeed(speed)
	c.rearm()
}
