package kind

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// TestAnotherInstrumentIsToldAtOnce: who answers in place of the expected one is
// no silence that may pass, and both are named until a reading counts again.
func TestAnotherInstrumentIsToldAtOnce(t *testing.T) {
	const both = "steadyrail SIM-DMM, serial number 00123458 is there, it was steadyrail SIM-DMM, serial number 00123457 before"
	s := armed(t, "silent", five)
	s.Read(at(1), &capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 5, Resolution: 0.001})
	s.Tick(at(1.1))
	if s.Condition() != Absent {
		t.Fatalf("it reads, and the condition is %v", s.Condition())
	}
	act := capture.Act{Verb: capture.ActLinkLost, Subject: "dmm", Text: both}
	s.(interface {
		Act(capture.Instant, *capture.Act)
	}).Act(at(1.2), &act)
	s.Read(at(1.2), &capture.Reading{Channel: "dmm/volts", Flags: capture.Mismatch})
	s.Tick(at(1.3))
	if s.Condition() != Present || s.Outcome() != capture.Fail {
		t.Fatalf("another instrument answers, and the condition is %v, %v", s.Condition(), s.Outcome())
	}
	if say := s.Finding().Say; !strings.Contains(say, both) || !strings.Contains(say, "another instrument") {
		t.Errorf("not both are named: %s", say)
	}
	s.Read(at(1.4), &capture.Reading{Channel: "dmm/volts", Flags: capture.TimedOut})
	s.Tick(at(1.5))
	if s.Condition() != Present {
		t.Error("a time-out ended it")
	}
	s.Read(at(2), &capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 5, Resolution: 0.001})
	s.Tick(at(2.1))
	if s.Condition() != Absent {
		t.Error("the expected one reads again, and it is still told")
	}
}

// TestSilenceHasPatience: anything but another instrument is waited for, the
// longer of ten intervals and three seconds.
func TestSilenceHasPatience(t *testing.T) {
	s := armed(t, "silent", five)
	for _, flag := range []capture.Flags{capture.TimedOut, capture.Disconnected, capture.Garbled} {
		s.Read(at(1), &capture.Reading{Channel: "dmm/volts", Flags: flag})
	}
	s.Tick(start.Add(SilentLeast - time.Millisecond))
	if s.Condition() == Present {
		t.Error("told too early")
	}
	s.Tick(start.Add(SilentLeast))
	if s.Condition() != Present {
		t.Error("not told")
	}
}
