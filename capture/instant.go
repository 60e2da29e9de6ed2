package capture

import (
	"sync/atomic"
	"time"
)

// Instant is a moment in microseconds since 1970-01-01 00:00 UTC. It orders
// everything in a job. The zero value means "not known".
type Instant int64

// InstantOf converts t, cutting below the microsecond.
func InstantOf(t time.Time) Instant { return Instant(t.UnixMicro()) }

// Time returns the instant in UTC.
func (i Instant) Time() time.Time { return time.UnixMicro(int64(i)).UTC() }

// Add returns the instant d later, cut to the microsecond.
func (i Instant) Add(d time.Duration) Instant { return i + Instant(d/time.Microsecond) }

// Sub returns the span from j to i.
func (i Instant) Sub(j Instant) time.Duration { return time.Duration(i-j) * time.Microsecond }

// IsZero reports whether the instant is not known.
func (i Instant) IsZero() bool { return i == 0 }

// String prints the instant after RFC 3339 with microseconds, in UTC.
func (i Instant) String() string {
	if i == 0 {
		return "unknown"
	}
	return i.Time().Format("2006-01-02T15:04:05.000000Z07:00")
}

// TickGrid is the spacing of ticks in a job's own time. Rules that look across
// channels see only what was answered before the tick they are judged at.
const TickGrid = 100 * time.Millisecond

// Ticks calls yield for every point of the tick grid in (after, upto], in
// order, until yield returns false.
func Ticks(after, upto Instant, yield func(Instant) bool) {
	const grid = Instant(TickGrid / time.Microsecond)
	for t := (after/grid + 1) * grid; t <= upto; t += grid {
		if !yield(t) {
			return
		}
	}
}

// Clock tells the bench's time and waits in it. A bench may run on the
// computer's clock or, simulated, on a faster one; nothing but the poller, the
// bus and the application asks it.
type Clock interface {
	// Now returns the present instant. It never goes backwards.
	Now() Instant
	// After returns a channel that receives once, d of bench time from now,
	// and a function that gives the timer up.
	After(d time.Duration) (<-chan time.Time, func())
}

// WallClock is the computer's clock. It follows the monotonic clock from the
// moment it was made, so that a step of the wall clock cannot turn the record
// back; [WallClock.Parted] tells how far the two have gone apart.
type WallClock struct {
	start time.Time
	ahead atomic.Int64 // nanoseconds that Advance put it ahead of the computer's
}

// NewWallClock anchors a clock at the present wall time.
func NewWallClock() *WallClock { return &WallClock{start: time.Now()} }

// Now returns the anchor plus the monotonic time since.
func (c *WallClock) Now() Instant {
	return InstantOf(c.start.Add(time.Since(c.start) + time.Duration(c.ahead.Load())))
}

// Advance puts the clock ahead when it stands before an instant, and returns by
// how much: a computer without a clock battery wakes up in the past, and the
// record goes on from where it ended. It never turns the clock back.
func (c *WallClock) Advance(to Instant) time.Duration {
	by := to.Sub(c.Now())
	if by <= 0 {
		return 0
	}
	c.ahead.Add(int64(by))
	return by
}

// After waits on an ordinary timer.
func (c *WallClock) After(d time.Duration) (<-chan time.Time, func()) {
	t := time.NewTimer(d)
	return t.C, func() { t.Stop() }
}

// Parted returns wall time minus this clock's time. More than two seconds mean
// that the computer slept or that its clock was set.
func (c *WallClock) Parted() time.Duration {
	return time.Now().Round(0).Sub(c.Now().Time())
}
