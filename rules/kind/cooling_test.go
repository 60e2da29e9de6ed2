package kind

import (
	"testing"
	"time"

	"steadyrail/capture"
)

// Half a minute after a steady touch a joint counts as cool, whatever the probe
// read in the moment of contact.
func TestCoolInHalfAMinuteAfterContact(t *testing.T) {
	var c cooling
	start := capture.Instant(1_000_000_000_000)
	c.take(start, &capture.Act{Verb: capture.ActLift, Subject: "PS2"}, five.Name)
	touch := start.Add(5 * time.Second)
	c.add(touch, 1468.88, 0.01, false) // the first reading of a real meter over charging capacitors
	for d := 300 * time.Millisecond; d <= 32*time.Second; d += 200 * time.Millisecond {
		if at := touch.Add(d); d < 30*time.Second && !c.warm(at) {
			t.Fatalf("cool after %v", d)
		}
		c.add(touch.Add(d), 1500.17, 0.01, d > time.Second)
	}
	if c.warm(touch.Add(32 * time.Second)) {
		t.Error("still warm half a minute after the touch was steady")
	}
}

// Readings that never get steady agree with nothing, and only time cools then.
func TestUnsteadyNeverCools(t *testing.T) {
	var c cooling
	start := capture.Instant(1_000_000_000_000)
	c.take(start, &capture.Act{Verb: capture.ActLift, Subject: "PS2"}, five.Name)
	for d := time.Second; d < CoolsFor; d += time.Second {
		c.add(start.Add(d), 0.84, 0.0001, false)
		if !c.warm(start.Add(d)) {
			t.Fatalf("cool after %v", d)
		}
	}
	if c.warm(start.Add(CoolsFor)) {
		t.Error("warm for ever")
	}
}
