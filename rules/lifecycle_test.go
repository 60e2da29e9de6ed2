package rules

import (
	"encoding/json"
	"os"
	"testing"

	"steadyrail/capture"
)

// TestLifecycleAfterISA182 walks the transitions of the state diagram of
// ANSI/ISA-18.2-2016 and IEC 62682:2014, letter by letter, as the reference file
// lists them; acknowledge is *heard*, the operator's reset is *reset latch*.
func TestLifecycleAfterISA182(t *testing.T) {
	var file struct{ Transitions [][3]string }
	published(t, "transitions.json", &file)
	type step struct {
		from  string
		ev    event
		latch bool
		to    string
	}
	by := map[string]struct {
		ev    event
		latch []bool
	}{
		"alarm condition": {comes, []bool{false, true}}, "alarm condition again": {comes, []bool{false, true}}, "acknowledge": {heard, []bool{false, true}},
		"return to normal": {goes, []bool{false}}, "return to normal (latching alarm)": {goes, []bool{true}}, "operator reset": {reset, []bool{false, true}},
	}
	// Re-alarm, optional in the standard: heard of another story, it is unheard
	// again. The diagram leaves open what a latched alarm does that comes again.
	steps := []step{{"C", turns, false, "B"}, {"C", turns, true, "B"}, {"B", turns, false, "B"}, {"E", comes, true, "B"}, {"F", comes, true, "B"}}
	for _, tr := range file.Transitions {
		what, known := by[tr[1]]
		if !known {
			t.Errorf("nothing here is %q", tr[1])
		}
		for _, latch := range what.latch {
			steps = append(steps, step{tr[0], what.ev, latch, tr[2]})
		}
	}
	if len(file.Transitions) != 10 {
		t.Errorf("%d transitions in the file", len(file.Transitions))
	}
	for _, c := range steps {
		if got, ok := next(lettered(t, c.from), c.ev, c.latch); !ok || got.Letter() != c.to {
			t.Errorf("%s by event %d, latching %v: got %s %v, want %s", c.from, c.ev, c.latch, got.Letter(), ok, c.to)
		}
	}
}

// published reads a file of alarms' reference values.
func published(t *testing.T, name string, into any) {
	t.Helper()
	text, err := os.ReadFile("../testdata/reference/alarms/" + name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, into); err != nil {
		t.Fatal(err)
	}
}

// worked is alarms/worked.json.
type worked struct {
	Sequences []struct {
		Limits   []float64
		Deadband float64
		Readings []float64
		High     []bool `json:"high_active"`
	} `json:"worked_sequences"`
	Chatter []struct {
		At         []float64 `json:"activations_s"`
		Chattering bool
	} `json:"worked_chatter"`
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

// TestChatterCriterion holds the published criterion: three alarms within a
// minute chatter.
func TestChatterCriterion(t *testing.T) {
	var file worked
	published(t, "worked.json", &file)
	if len(file.Chatter) != 2 {
		t.Fatalf("%d cases in the file", len(file.Chatter))
	}
	for _, c := range file.Chatter {
		var ch chatter
		got := false
		for _, s := range c.At {
			ch.add(at(s))
			got = got || ch.count(at(s)) >= chatterLimit
		}
		if got != c.Chattering {
			t.Errorf("%v: chatters %v", c.At, got)
		}
	}
}
