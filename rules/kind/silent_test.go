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
	s.Act(at(1.2), &act)
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

// TestTheStoryOfASilence: what a silence is told as turns when another
// instrument answers and the record names it, and with nothing else.
func TestTheStoryOfASilence(t *testing.T) {
	const gone, other, third = "the link was closed", "458 is there, it was 457 before", "459 is there, it was 457 before"
	lost := func(why string) any { return capture.Act{Verb: capture.ActLinkLost, Subject: "dmm", Text: why} }
	back := capture.Act{Verb: capture.ActLinkBack, Subject: "dmm"}
	for _, c := range []struct {
		name  string
		hears []any // acts, and flags of readings without a value
		story string
		says  string
	}{
		{"no answer", []any{capture.TimedOut}, "", "gives no usable answer (timeout)"},
		{"unplugged", []any{lost(gone), capture.Disconnected}, "", "is disconnected"},
		{"unplugged, not asked since", []any{lost(gone)}, "", "is disconnected"},
		{"another, in words only", []any{lost(other)}, "", "is disconnected"},
		{"another, no name yet", []any{capture.Mismatch}, "", "is another instrument than was expected"},
		{"another", []any{lost(other), capture.Mismatch}, other, "is another instrument than was expected (" + other + ")"},
		{"another after a while", []any{lost(gone), capture.Disconnected, lost(other), capture.Mismatch}, other, "(" + other + ")"},
		{"seen before it was named", []any{capture.Mismatch, lost(other), capture.Mismatch}, other, "(" + other + ")"},
		{"it is gone, too", []any{lost(other), capture.Mismatch, lost(gone)}, "", "is disconnected"},
		{"a third", []any{lost(other), capture.Mismatch, lost(gone), capture.Disconnected, lost(third), capture.Mismatch}, third, "(" + third + ")"},
		{"back, not asked since", []any{lost(other), capture.Mismatch, back}, "", "does not answer"},
		{"of a neighbour", []any{capture.Act{Verb: capture.ActLinkLost, Subject: "dmm2", Text: other}, capture.Mismatch}, "", "is another instrument than was expected"},
	} {
		s := armed(t, "silent", five)
		for i, h := range c.hears {
			when := at(1 + float64(i)/10)
			switch h := h.(type) {
			case capture.Act:
				s.Act(when, &h)
			case capture.Flags:
				s.Read(when, &capture.Reading{Channel: "dmm/volts", Flags: h})
			}
		}
		s.Tick(at(2))
		if got := s.Story(); got != c.story || (s.Condition() == Present) != (c.story != "") {
			t.Errorf("%s: story %q, condition %v", c.name, got, s.Condition())
		}
		if say := s.Finding().Say; !strings.HasSuffix(say, c.says) {
			t.Errorf("%s: %s", c.name, say)
		}
	}
}

// TestAnotherWithoutNamesIsWaitedFor: a job that was opened when the other one
// answered already heard no act that names it. It is silence all the same.
func TestAnotherWithoutNamesIsWaitedFor(t *testing.T) {
	s := armed(t, "silent", five)
	s.Read(at(1), &capture.Reading{Channel: "dmm/volts", Flags: capture.Mismatch})
	s.Tick(start.Add(SilentLeast))
	if s.Condition() != Present {
		t.Error("not told")
	}
}
