package app

import (
	"testing"
	"time"
)

// What is said of a meter that switches itself off hangs on how long the soak is
// to last.
func TestAutoOffNote(t *testing.T) {
	for _, c := range []struct {
		planned time.Duration
		want    string
	}{
		{0, "hand, on +5 V logic, may switch itself off after 15 min: turn that off on the meter, or press a key when it is asked for."},
		{10 * time.Minute, "hand, on +5 V logic, may switch itself off after 15 min without a key: press one now, and it lasts until the soak ends."},
		{15 * time.Minute, "hand, on +5 V logic, may switch itself off after 15 min, before the soak ends: turn that off on the meter, or press a key when it is asked for."},
		{8 * time.Hour, "hand, on +5 V logic, may switch itself off after 15 min, before the soak ends: turn that off on the meter, or press a key when it is asked for."},
	} {
		if got := autoOffNote("hand", "+5 V logic", 15*time.Minute, c.planned); got != c.want {
			t.Errorf("%v: %q", c.planned, got)
		}
	}
}
