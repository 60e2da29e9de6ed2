package capture

import (
	"testing"
	"time"
)

func TestStateStandsBehindItsLevel(t *testing.T) {
	asked := "volts 24, amperes 1, over-voltage 26, over-current 1.5"
	answer := "output 1: volts 24.000 V, amperes 1.000 A, over-voltage 26.00 V (always on), over-current 1.50 A (state not confirmed), read back"
	got := Confirmed(asked, answer)
	if want := "volts 24, amperes 1, over-voltage 26 (always on), over-current 1.5 (state not confirmed)"; got != want {
		t.Errorf("got %q", got)
	}
	if v, c := LimitIn(got, OverVoltage), LimitIn(got, OverCurrent); v != "26" || c != "1.5" {
		t.Errorf("levels %q and %q", v, c)
	}
	if s := StateIn("output 1: over-voltage 26.00 V (on), volts 24", OverVoltage); s != GuardOn {
		t.Errorf("first behind an output's name: %q", s)
	}
	if s := StateIn(asked, OverCurrent); s != "" {
		t.Errorf("a record without states says %q", s)
	}
}

// What is claimed of a protection is what was confirmed, also of a record from
// before states were asked for.
func TestClaim(t *testing.T) {
	for _, c := range []struct{ limits, claim, readBack string }{
		{"over-voltage 26 (on), over-current 1.5 (on)", "protected by over-voltage 26 V and over-current 1.5 A, read back as on", "over-voltage 26 (on), over-current 1.5 (on)"},
		{"over-voltage 26 (always on), over-current 2 (state not confirmed)",
			"protected by over-voltage 26 V, always on by its model file; over-current protection: level 2 A set, state not confirmed", "over-voltage 26, over-current 2"},
		{"over-voltage 26 (always on), over-current 2 (on)", "protected by over-voltage 26 V and over-current 2 A, always on by its model file and read back as on", "over-voltage 26, over-current 2 (on)"},
		{"over-voltage 26, over-current 2",
			"protected by nothing that is known to be on; over-voltage protection: level 26 V set, state not confirmed; over-current protection: level 2 A set, state not confirmed", "over-voltage 26, over-current 2"},
	} {
		var p Protections
		p.Consume(Record{At: 1, Item: Act{Verb: ActLimits, Subject: "psu", Text: c.limits}})
		got := p.Of("psu")
		if got.Claim() != c.claim || got.Text() != c.readBack || !got.Armed() {
			t.Errorf("%s:\n%s\n%s\n%+v", c.limits, got.Claim(), got.Text(), got)
		}
	}
}

// A read-back says anew what is known of the states; a level that is set again
// loses a state that nobody confirmed with it.
func TestStatesFollowTheRecord(t *testing.T) {
	var p Protections
	at := Instant(0)
	take := func(verb Verb, text, voltage, current string) {
		t.Helper()
		at = at.Add(time.Second)
		p.Consume(Record{At: at, Item: Act{Verb: verb, Subject: "psu", Text: text}})
		if got := p.Of("psu"); got.VoltageState != voltage || got.CurrentState != current {
			t.Errorf("%s %s: %q, %q", verb, text, got.VoltageState, got.CurrentState)
		}
	}
	take(ActLimits, "over-voltage 26 (on), over-current 2 (on)", GuardOn, GuardOn)
	take(ActLimits, "volts 24", GuardOn, GuardOn)
	take(ActLimits, "over-current 3", GuardOn, "")
	take(ActReadBack, "output on, over-voltage 26.00 V (on), over-current 3.00 A (state not confirmed)", GuardOn, GuardUnknown)
	take(ActReadBack, "output on", GuardOn, GuardUnknown)
}

// An output that was found off says why, and what is read back of one without
// levels lifts no doubt about its protection.
func TestFoundOff(t *testing.T) {
	text := WithTripped("output off, over-voltage 26.00 V (on)", OverCurrent)
	if !FoundOff(text) || FoundOff("output off") || FoundOff("output on, tripped: over-current") || StateIn(text, OverVoltage) != GuardOn {
		t.Error(text)
	}
	if got := WhyOff("psu", text); got != "psu switched its output off by itself: its over-current protection tripped" {
		t.Error(got)
	}
	var p Protections
	p.Consume(Record{At: 1, Item: Act{Verb: ActLimits, Subject: "psu", Text: "over-voltage 26 (on), over-current 2 (on)"}})
	p.Consume(Record{At: 2, Item: Act{Verb: ActLinkLost, Subject: "psu"}})
	p.Consume(Record{At: 3, Item: Act{Verb: ActLinkBack, Subject: "psu"}})
	p.Consume(Record{At: 4, Item: Act{Verb: ActReadBack, Subject: "psu", Text: "output off, tripped: over-current"}})
	if q := p.Of("psu"); q.Armed() || q.CurrentState != GuardOn {
		t.Errorf("%+v", q)
	}
}
