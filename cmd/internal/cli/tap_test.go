package cli

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// Who taps a rail that the probe is on already is told so within a second, and the
// next word is that of the touch again; nothing is said twice.
func TestTapSaysAtOnceThatTheProbeIsThere(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out strings.Builder
		words := "touch +5 V logic with hand now; lift it first if it is there"
		stop := waiting(streams{out: &out, err: &out}, "+5 V logic", func() string { return words })
		time.Sleep(700 * time.Millisecond)
		synctest.Wait()
		if out.Len() > 0 {
			t.Errorf("nothing is new, and it says %q", out.String())
		}
		words = "hand reads 5.012 V already: lift it, then touch +5 V logic with hand now"
		time.Sleep(time.Second)
		synctest.Wait()
		if got := out.String(); got != "  Hand reads 5.012 V already: lift it, then touch +5 V logic with hand now\n" {
			t.Errorf("within a second: %q", got)
		}
		time.Sleep(4 * time.Second)
		synctest.Wait()
		if strings.Count(out.String(), "\n") != 1 {
			t.Errorf("said again: %q", out.String())
		}
		words = "" // the daemon did not answer this time
		time.Sleep(time.Second)
		synctest.Wait()
		if strings.Count(out.String(), "\n") != 1 {
			t.Errorf("an empty line: %q", out.String())
		}
		words = "touch +5 V logic with hand now; lift it first if it is there"
		time.Sleep(time.Second)
		stop()
		if !strings.HasSuffix(out.String(), "  Touch +5 V logic with hand now; lift it first if it is there\n") {
			t.Errorf("lifted: %q", out.String())
		}
	})
}

// TestTapAsksForNoTouchOfAKnownMeter: only what is up and has nothing to be asked of a
// person is known.
func TestTapAsksForNoTouchOfAKnownMeter(t *testing.T) {
	for _, c := range []struct {
		m    meter
		want bool
	}{
		{meter{Up: true}, true},
		{meter{Up: true, Problem: "touch a rail with hand now"}, false},
		{meter{Problem: "its link is down"}, false},
		{meter{}, false},
	} {
		if got := c.m.certain(); got != c.want {
			t.Errorf("%+v: %v", c.m, got)
		}
	}
}
