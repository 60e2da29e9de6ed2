package poll_test

import (
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture/poll"
)

// One instrument after another in the place of the right one, with no loss
// between them: each is told once, however often it answers.
func TestEachOtherInstrumentIsToldOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meter("dmm", 200*time.Millisecond)
		_, s, stop := run(t, poll.Options{}, nil, m)
		time.Sleep(time.Second)
		m.set(func(f *fake) { f.fail, f.away = errGone, errGone })
		time.Sleep(time.Second)
		for _, who := range []string{"00777", "00888", "00777"} {
			m.set(func(f *fake) { f.fail, f.away = nil, fmt.Errorf("%w: %s", errOther, who) })
			time.Sleep(time.Minute)
		}
		stop()
		var told []string
		for _, act := range s.posted() {
			if _, who, other := strings.Cut(act, errOther.Error()+": "); other {
				told = append(told, who)
			}
		}
		if got := strings.Join(told, " "); got != "00777 00888 00777" {
			t.Errorf("told %q of %q", got, s.posted())
		}
	})
}

// A job that opens while instruments are away hears which, and why; one that is
// there, or serves another job, is not its news.
func TestAJobHearsWhatWasLostBeforeIt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		gone, there, elsewhere := meter("dmm", 200*time.Millisecond), meter("dmm2", 200*time.Millisecond), meter("dmm3", 200*time.Millisecond)
		l, s, stop := run(t, poll.Options{}, nil, gone, there, elsewhere)
		time.Sleep(time.Second)
		gone.set(func(f *fake) { f.fail, f.away = errGone, errGone })
		elsewhere.set(func(f *fake) { f.fail, f.away = errGone, errGone })
		time.Sleep(time.Second)
		s.serve(map[string]string{"dmm": "AB-0147", "dmm2": "AB-0147"})
		before := len(s.posted())
		if err := l.TellLosses("AB-0147"); err != nil {
			t.Fatal(err)
		}
		if acts := s.posted()[before:]; len(acts) != 1 || !strings.HasPrefix(acts[0], "AB-0147: dmm link lost ") || !strings.Contains(acts[0], errGone.Error()) {
			t.Errorf("posted %q", acts)
		}
		gone.set(func(f *fake) { f.fail, f.away = nil, nil })
		time.Sleep(time.Minute)
		before = len(s.posted())
		if err := l.TellLosses("AB-0147"); err != nil {
			t.Fatal(err)
		}
		if acts := s.posted()[before:]; len(acts) != 0 {
			t.Errorf("of one that is back: %q", acts)
		}
		stop()
	})
}
