package capture_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

func mute(subject string, seconds float64) capture.Act {
	return capture.Act{Verb: capture.ActMute, Subject: subject, Value: seconds, By: "R. Hale"}
}

func TestMutesEnd(t *testing.T) {
	at := func(s float64) capture.Instant { return capture.Instant(1e15 + s*1e6) }
	five := capture.Transition{Rule: "band +5 V logic", Rail: "+5 V logic", Alarm: "band +5 V logic@7"}
	var m capture.Mutes
	m = m.With(at(0), mute("band +5 V logic", 60))
	m = m.With(at(1), mute("+5 V logic", 10))
	for _, c := range []struct {
		at, until float64
		on        bool
	}{{2, 60, true}, {59.9, 60, true}, {60, 0, false}} {
		got, on := m.On(at(c.at), five)
		if on != c.on || on && got.Until != at(c.until) {
			t.Errorf("at %g s: %+v %v", c.at, got, on)
		}
	}
	if _, on := m.On(at(2), capture.Transition{Rule: "band +12 V audio", Rail: "+12 V audio", Alarm: "band +12 V audio@7"}); on {
		t.Error("another rail is muted")
	}
	if again := m.With(at(3), mute("band +5 V logic", 5)).Now(at(9)); len(again) != 1 || again[0].Subject != "+5 V logic" {
		t.Errorf("a shorter one does not take the place of the longer: %+v", again)
	}
	if gone := m.With(at(3), mute("band +5 V logic", 0)).Now(at(3)); len(gone) != 1 {
		t.Errorf("not ended by hand: %+v", gone)
	}
	if len(m.Now(at(3))) != 2 {
		t.Error("the mutes of before were changed")
	}
	if all := (capture.Mutes{}).With(at(0), mute("", 1e9)); all[0].Until != at(0).Add(capture.MostMuted) || all[0].Of() != "all alarms" {
		t.Errorf("%+v", all)
	}
	if of := (capture.Mute{Subject: five.Alarm}).Of(); of != "band +5 V logic" {
		t.Errorf("of %q", of)
	}
}

// Whatever is muted and ended: one mute a subject at most, and none for ever.
func TestNoMuteForEver(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var m capture.Mutes
		now := capture.Instant(1e15)
		for range rapid.IntRange(1, 20).Draw(t, "acts") {
			now = now.Add(time.Duration(rapid.Int64Range(0, 1e12).Draw(t, "later")))
			m = m.With(now, mute(rapid.SampledFrom([]string{"", "a", "b", "c"}).Draw(t, "subject"), rapid.Float64Range(0, 1e12).Draw(t, "seconds")))
			seen := map[string]bool{}
			for _, one := range m.Now(now) {
				if seen[one.Subject] || one.Until <= now || one.Until > now.Add(capture.MostMuted) {
					t.Fatalf("%+v at %v", m, now)
				}
				seen[one.Subject] = true
			}
		}
		if left := m.Now(now.Add(capture.MostMuted)); len(left) != 0 {
			t.Fatalf("for ever: %+v", left)
		}
	})
}
