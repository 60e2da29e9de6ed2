package capture

import (
	"testing"
	"time"
)

// What does not count is told by its reason, a single one whole, and none is lost.
func TestGroupUnused(t *testing.T) {
	at := func(min int) Instant {
		return Instant(time.Duration(min)*time.Minute/time.Microsecond) + 1_800_000_000_000_000
	}
	list := []UnusedReading{
		{At: at(2), Because: "the rail was under power", Say: "+5 V: ohms under power mean nothing"},
		{Because: "it names no rail of the sheet", Say: "the set says nothing"},
		{At: at(5), Because: "the rail was under power", Say: "+12 V: ohms under power mean nothing"},
		{At: at(1), Because: "the rail was under power", Say: "+5 V: ohms under power mean nothing"},
	}
	got := GroupUnused(list)
	if len(got) != 2 || got[0].N != 3 || got[0].Say != "" || got[0].From != at(1) || got[0].To != at(5) {
		t.Fatalf("%+v", got)
	}
	for i, want := range []string{"3 times: the rail was under power (08:01 to 08:05)", "the set says nothing"} {
		if text := got[i].Text(time.UTC); text != want {
			t.Errorf("%q, want %q", text, want)
		}
	}
	if none := GroupUnused(nil); none == nil || len(none) != 0 {
		t.Errorf("of nothing: %v", none)
	}
	two := GroupUnused([]UnusedReading{{Because: "a"}, {Because: "a"}})
	if text := two[0].Text(time.UTC); text != "2 times: a" {
		t.Errorf("of no instant: %q", text)
	}
	same := GroupUnused([]UnusedReading{{At: at(3), Because: "a"}, {At: at(3) + 5, Because: "a"}})
	if text := same[0].Text(time.UTC); text != "2 times: a (08:03)" {
		t.Errorf("of one minute: %q", text)
	}
}
