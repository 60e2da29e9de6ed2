package rules

import (
	"testing"

	"steadyrail/capture"
)

// TestLifecycleAfterISA182 walks the transitions of the state diagram of
// ANSI/ISA-18.2-2016 and IEC 62682:2014, letter by letter (reference set
// 09-alarms/alarm_lifecycle.json, "transitions"; acknowledge is *heard*, the
// operator's reset is *reset latch*).
func TestLifecycleAfterISA182(t *testing.T) {
	for _, c := range []struct {
		from  string
		ev    event
		latch bool
		to    string
	}{
		{"A", comes, false, "B"},
		{"B", heard, false, "C"},
		{"B", goes, false, "D"},
		{"C", goes, false, "A"},
		{"D", heard, false, "A"},
		{"D", comes, false, "B"},
		{"B", goes, true, "E"},
		{"C", goes, true, "F"},
		{"E", heard, true, "F"},
		{"F", reset, true, "A"},
		// Re-alarm, "optional" in the reference set: heard of another story, it is
		// unheard again.
		{"C", turns, false, "B"},
		{"C", turns, true, "B"},
		{"B", turns, false, "B"},
		// The diagram leaves open what a latched alarm does that comes again.
		{"E", comes, true, "B"},
		{"F", comes, true, "B"},
	} {
		if got, ok := next(lettered(t, c.from), c.ev, c.latch); !ok || got.Letter() != c.to {
			t.Errorf("%s by event %d, latching %v: got %s %v, want %s", c.from, c.ev, c.latch, got.Letter(), ok, c.to)
		}
	}
}

func TestNothingElseMovesAnAlarm(t *testing.T) {
	moves := 0
	for s := capture.Normal; s <= capture.LatchedHeard; s++ {
		for ev := comes; ev <= turns; ev++ {
			for _, latch := range []bool{false, true} {
				got, ok := next(s, ev, latch)
				if !ok && got != s {
					t.Errorf("%s by event %d moved although nothing happened", s.Letter(), ev)
				}
				if ok {
					moves++
				}
			}
		}
	}
	// comes: A D E F; heard: B D E; reset: F; goes: B C; turns: B C; each latching
	// or not.
	if moves != 2*(4+3+1+2+2) {
		t.Errorf("%d moves", moves)
	}
}

func lettered(t *testing.T, letter string) capture.AlarmState {
	t.Helper()
	for s := capture.Normal; s <= capture.LatchedHeard; s++ {
		if s.Letter() == letter {
			return s
		}
	}
	t.Fatalf("no state %s", letter)
	return 0
}

// TestChatterCriterion holds the worked sequences of reference set 09-alarms:
// activations at 0, 15 and 40 s chatter, at 0, 30 and 61 s they do not.
func TestChatterCriterion(t *testing.T) {
	for _, c := range []struct {
		at   []float64
		want bool
	}{{[]float64{0, 15, 40}, true}, {[]float64{0, 30, 61}, false}} {
		var ch chatter
		got := false
		for _, s := range c.at {
			ch.add(at(s))
			got = got || ch.count(at(s)) >= chatterLimit
		}
		if got != c.want {
			t.Errorf("%v: chatters %v", c.at, got)
		}
	}
}
