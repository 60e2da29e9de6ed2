package sim

import (
	"math"
	"time"
)

type waiter struct {
	due   time.Duration // bench time since start
	ch    chan time.Time
	timer *time.Timer
	short bool // the goroutine of the short waits looks after it
}

// After returns a channel that receives the wall time once, d of bench time
// from now, and a function that gives the wait up.
func (c *Clock) After(d time.Duration) (<-chan time.Time, func()) {
	c.mu.Lock()
	defer c.mu.Unlock()
	w := &waiter{due: c.elapsed() + d, ch: make(chan time.Time, 1)}
	w.timer = time.AfterFunc(time.Hour, func() { c.fire(w) })
	c.waiters[w] = struct{}{}
	c.arm(w)
	return w.ch, func() { c.giveUp(w) }
}

// Fine makes the clock keep short waits exactly. The runtime's timers wait for
// whole milliseconds when the computer is idle, which is a second of bench time
// at a thousand times the speed; with it, a goroutine sleeps by the system's own
// clock for as long as somebody waits for less than that. Where the system has no
// such sleep it changes nothing.
func (c *Clock) Fine() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.fine = canNap
}

// coarse is the wall time from which on the runtime's timers are good enough,
// nap how long the goroutine of the short waits sleeps between two looks.
const (
	coarse = 2 * time.Millisecond
	nap    = 20 * time.Microsecond
)

// serveShort looks after the short waits until there are none.
func (c *Clock) serveShort() {
	for c.fireShort() {
		doze(nap)
	}
}

// fireShort ends the short waits that are due and reports whether any is left.
func (c *Clock) fireShort() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	left := false
	now := c.elapsed()
	for w := range c.waiters {
		switch {
		case !w.short:
		case now >= w.due:
			delete(c.waiters, w)
			w.ch <- time.Now()
		default:
			left = true
		}
	}
	c.runs = left
	return left
}

// arm sets the waiter's timer for the present speed. A wait too long for a
// timer is cut to an hour: fire finds it early and arms it again.
func (c *Clock) arm(w *waiter) {
	w.short = false
	if c.speed == 0 || c.leash != 0 && w.due > c.leash {
		w.timer.Stop() // whoever changes either arms it again
		return
	}
	wall := math.Ceil(float64(w.due-c.elapsed()) / c.speed)
	if c.fine && wall < float64(coarse) {
		w.short = true
		w.timer.Stop()
		if !c.runs {
			c.runs = true
			go c.serveShort()
		}
		return
	}
	w.timer.Reset(time.Duration(math.Min(math.Max(wall, 0), float64(time.Hour))))
}

func (c *Clock) fire(w *waiter) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if _, waiting := c.waiters[w]; !waiting {
		return
	}
	if c.elapsed() < w.due {
		c.arm(w)
		return
	}
	delete(c.waiters, w)
	w.ch <- time.Now()
}

func (c *Clock) giveUp(w *waiter) {
	c.mu.Lock()
	defer c.mu.Unlock()
	delete(c.waiters, w)
	w.timer.Stop()
}
