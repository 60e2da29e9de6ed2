package poll_test

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture/poll"
)

// A pace of its own is even and misses nothing; without it the configured
// interval holds again, spread as before.
func TestPace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, s, stop := run(t, poll.Options{}, nil, meter("dmm", 200*time.Millisecond))
		time.Sleep(2 * time.Second)
		gaps := func() (least, most time.Duration, n int) {
			before := len(s.of("dmm/volts"))
			time.Sleep(10 * time.Second)
			got := s.of("dmm/volts")[before:]
			least = time.Hour
			for i := 1; i < len(got); i++ {
				gap := got[i].begun.Sub(got[i-1].begun)
				least, most = min(least, gap), max(most, gap)
			}
			return least, most, len(got)
		}
		if least, most, n := gaps(); most-least < 100*time.Millisecond || n < 45 || n > 55 {
			t.Fatalf("as configured: %d readings, %v to %v apart", n, least, most)
		}
		if err := l.Pace(t.Context(), "dmm/volts", 100*time.Millisecond); err != nil {
			t.Fatal(err)
		}
		if least, most, n := gaps(); most-least > 2*time.Millisecond || n < 99 || n > 101 {
			t.Errorf("in hurry: %d readings, %v to %v apart", n, least, most)
		}
		if err := l.Pace(t.Context(), "dmm/volts", 0); err != nil {
			t.Fatal(err)
		}
		if least, most, n := gaps(); most-least < 100*time.Millisecond || n < 45 || n > 55 {
			t.Errorf("as configured again: %d readings, %v to %v apart", n, least, most)
		}
		if err := l.Pace(t.Context(), "dmm/amps", time.Second); !errors.Is(err, poll.ErrUnknown) {
			t.Errorf("a channel that is not there: %v", err)
		}
		stop()
		for _, st := range l.Stats() {
			if st.Missed != 0 {
				t.Errorf("%s: %d slots missed", st.Channel, st.Missed)
			}
		}
	})
}
