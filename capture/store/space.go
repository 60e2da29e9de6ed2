package store

import (
	"context"
	"fmt"
	"time"
)

// Size returns how many bytes the job's file takes or will take once the log in
// front of it is taken in. Unlike [Stats].Bytes it does not jump with that log,
// so a rate of writing can be told from it.
func (j *Job) Size(ctx context.Context) (int64, error) {
	var bytes int64
	err := j.r.db.QueryRowContext(ctx, "SELECT page_count * page_size FROM pragma_page_count, pragma_page_size").Scan(&bytes)
	return bytes, j.wrap("measure", err)
}

// Bytes is a size.
type Bytes int64

// String writes a size in decimal units to three digits: "2.39 GB".
func (b Bytes) String() string {
	v := float64(b)
	for _, unit := range []string{"B", "kB", "MB", "GB"} {
		if v < 999.5 {
			if unit == "B" {
				return fmt.Sprintf("%d B", b)
			}
			return threeDigits(v) + " " + unit
		}
		v /= 1000
	}
	return threeDigits(v) + " TB"
}

func threeDigits(v float64) string {
	switch {
	case v < 9.995:
		return fmt.Sprintf("%.2f", v)
	case v < 99.95:
		return fmt.Sprintf("%.1f", v)
	}
	return fmt.Sprintf("%.0f", v)
}

// Room is what a disk still takes.
type Room struct {
	Free int64   // bytes
	Rate float64 // bytes written a second; 0: nothing is written; below 0: not known
}

// farAway is where forecasts end: nobody's bench writes alike for longer.
const farAway = 2 * 365 * 24 * time.Hour

// Left returns how long the room lasts at this rate, two years at most; false
// when the rate is not known or nothing is written.
func (r Room) Left() (time.Duration, bool) {
	if !(r.Rate > 0) {
		return 0, false
	}
	if s := float64(r.Free) / r.Rate; s < farAway.Seconds() {
		return time.Duration(s * float64(time.Second)), true
	}
	return farAway, true
}

// String says it in a sentence.
func (r Room) String() string {
	free := Bytes(r.Free).String() + " free"
	left, ok := r.Left()
	switch {
	case !ok && r.Rate < 0:
		return free + "; how fast the record grows is not known yet"
	case !ok:
		return free + "; the record does not grow now"
	case left == farAway:
		return free + "; at this rate that is enough for years"
	}
	return free + "; the disk is full in about " + about(left) + " at this rate"
}

func about(d time.Duration) string {
	switch {
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f minutes", d.Minutes())
	case d < 48*time.Hour:
		return fmt.Sprintf("%.0f hours", d.Hours())
	}
	return fmt.Sprintf("%.0f days", d.Hours()/24)
}
