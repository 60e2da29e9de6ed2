package kind

import (
	"time"

	"steadyrail/capture"
)

// Room is the temperature about the meters, as it was last heard of. The zero
// value says that nobody told.
type Room struct {
	Celsius float64
	At      capture.Instant // 0: not told
	Typed   bool            // by a person, who does not look every minute
}

// How long a room's temperature holds (the project's own choice).
const (
	RoomLasts      = 10 * time.Minute
	RoomTypedLasts = 8 * time.Hour
)

// Now returns what the room had at an instant, nil when nobody told lately: the
// maker's 23 °C are assumed then, and said.
func (r Room) Now(at capture.Instant) *float64 {
	if !r.holds(at) {
		return nil
	}
	celsius := r.Celsius
	return &celsius
}

func (r *Room) holds(at capture.Instant) bool {
	lasts := RoomLasts
	if r.Typed {
		lasts = RoomTypedLasts
	}
	return r.At != 0 && at.Sub(r.At) <= lasts
}

// Overdue reports whether a calibration that is due on a day, such as
// 2027-03-01, was overdue at an instant: from the day after, in UTC. A day that
// is not stated, or none, never is.
func Overdue(due string, at capture.Instant) bool { return overdueSince(due).passed(at) }

// deadline is when a calibration begins to be overdue; 0: never.
type deadline capture.Instant

func overdueSince(due string) deadline {
	day, err := time.Parse(time.DateOnly, due)
	if err != nil {
		return 0
	}
	return deadline(capture.InstantOf(day.AddDate(0, 0, 1)))
}

func (d deadline) passed(at capture.Instant) bool { return d != 0 && at >= capture.Instant(d) }
