package notify

import (
	"testing"

	"go.uber.org/goleak"

	"steadyrail/capture"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func message(n int) Message {
	at := capture.Instant(1_800_000_000_000_000 + int64(n)*1_000_000)
	return Message{
		Alarm: capture.Transition{
			At: at, Alarm: capture.AlarmID("collapse +5 V logic", at), Rule: "collapse +5 V logic", Kind: "collapse",
			Rail: "+5 V logic", Severity: capture.Urgent, From: capture.Normal, To: capture.Active, Raised: at,
			Say: "+5 V logic collapsed: from 5.011 V to 3.087 V", Value: 3.087, Limit: 4.7, Unit: "V", Channel: "dmm/volts",
		},
		Bench: "east", Job: "AB-0147", Taken: at - 100_000,
		Rail: capture.Rail{Name: "+5 V logic", Nominal: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}},
	}
}

func TestWhatIsTold(t *testing.T) {
	for _, c := range []struct {
		from, to capture.AlarmState
		muted    string
		want     bool
	}{
		{capture.Normal, capture.Active, "", true},
		{capture.Returned, capture.Active, "", true},
		{capture.Latched, capture.Active, "", true},
		{capture.LatchedHeard, capture.Active, "", true},
		{capture.Active, capture.Active, "", true}, // out of a mute, or told anew
		{capture.Heard, capture.Active, "", true},  // told anew
		{capture.Heard, capture.Active, "muted", false},
		{capture.Active, capture.Active, "+5 V logic feeds it", false},
		{capture.Normal, capture.Active, "+5 V logic feeds it", false},
		{capture.Active, capture.Returned, "", true},
		{capture.Active, capture.Latched, "", true},
		{capture.Active, capture.Latched, "muted", false},
		{capture.Active, capture.Heard, "", false},
		{capture.Heard, capture.Normal, "", false},
		{capture.Heard, capture.LatchedHeard, "", false},
		{capture.Latched, capture.LatchedHeard, "", false},
		{capture.LatchedHeard, capture.Normal, "", false},
		{capture.Returned, capture.Normal, "", false},
	} {
		if got := Tells(capture.Transition{From: c.from, To: c.to, Muted: c.muted}); got != c.want {
			t.Errorf("%s to %s, muted %q: told %v", c.from, c.to, c.muted, got)
		}
	}
}

func TestKeyTellsStepsApart(t *testing.T) {
	a := message(1)
	b := a
	if a.Key() != b.Key() || len(a.Key()) != 32 {
		t.Fatalf("key %q and %q", a.Key(), b.Key())
	}
	for what, change := range map[string]func(*Message){
		"state": func(m *Message) { m.Alarm.To = capture.Latched },
		"time":  func(m *Message) { m.Alarm.At++ },
		"job":   func(m *Message) { m.Job = "AB-0148" },
	} {
		b = a
		change(&b)
		if a.Key() == b.Key() {
			t.Errorf("another %s has the same key", what)
		}
	}
}
