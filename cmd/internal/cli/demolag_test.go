package cli

import (
	"strings"
	"testing"
	"time"
)

// TestLagIsToldSeldom: when it is notable, and then only when it has doubled.
func TestLagIsToldSeldom(t *testing.T) {
	var l lag
	for _, c := range []struct {
		lost time.Duration
		want string
	}{
		{0, ""}, {2900 * time.Millisecond, ""}, {12 * time.Second, "stood still for 12 s of the wall clock"},
		{12 * time.Second, ""}, {23 * time.Second, ""}, {24 * time.Second, "24 s"}, {47 * time.Second, ""},
	} {
		if got := l.look(c.lost); (c.want == "") != (got == "") || !strings.Contains(strings.ReplaceAll(got, "\u00a0", " "), c.want) {
			t.Errorf("%s behind: %q", c.lost, got)
		}
	}
}
