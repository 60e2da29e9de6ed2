package cli

import (
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// An alarm that has gone is listed with the figure it was raised with, its worst and
// the one it ended with, each at its own time; not with what came last.
func TestAnAlarmIsListedWithItsOwnFigures(t *testing.T) {
	at := func(second int) capture.Instant {
		return capture.InstantOf(time.Date(2031, 3, 11, 10, 0, second, 0, time.Local))
	}
	var course capture.AlarmCourse
	var last capture.Transition
	for i, s := range []struct {
		from, to capture.AlarmState
		say      string
		value    float64
	}{
		{capture.Normal, capture.Active, "+5 V logic collapsed: from 5.011 V to 3.087 V", 3.087},
		{capture.Active, capture.Latched, "+5 V logic came back: down to 2.500 V", 2.5},
		{capture.Latched, capture.Active, "+5 V logic collapsed: from 5.012 V to 4.101 V", 4.101},
		{capture.Active, capture.Latched, "+5 V logic came back: down to 4.000 V", 4},
		{capture.Latched, capture.LatchedHeard, "+5 V logic collapsed: from 5.012 V to 4.101 V", 4.101},
	} {
		last = capture.Transition{At: at(i), Alarm: "collapse +5 V logic@1", Severity: capture.Urgent, From: s.from, To: s.to, Raised: at(0), Say: s.say, Value: s.value, Limit: 4.63, Unit: "V"}
		course.Take(last)
	}
	var b strings.Builder
	list := withCourses([]capture.Transition{last, {Alarm: "silent@2", Say: "No reading", To: capture.Active, At: at(9)}}, []capture.AlarmCourse{course})
	for _, l := range list {
		l.print(&b)
	}
	want := `10:00:00  urgent, latched heard: +5 V logic collapsed: from 5.011 V to 3.087 V
    came 2 times
    worst 10:00:01: +5 V logic came back: down to 2.500 V
    ended 10:00:03: +5 V logic came back: down to 4.000 V
    collapse +5 V logic@1
10:00:09  notice, active: No reading
    silent@2
`
	if b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
}

// TestEndedAlarmsAreListed: what is over, newest first, with what raised it and how it
// ended; what is not over is not among them.
func TestEndedAlarmsAreListed(t *testing.T) {
	at := func(s int) capture.Instant {
		return capture.InstantOf(time.Date(2031, 3, 12, 10, 0, s, 0, time.Local))
	}
	story := func(alarm string, sec int, last capture.AlarmState) []capture.Transition {
		raised := capture.Transition{At: at(sec), Alarm: alarm, Severity: capture.Warning, To: capture.Active, Raised: at(sec), Say: alarm + " came"}
		gone := raised
		gone.At, gone.From, gone.To, gone.Say = at(sec+5), capture.Active, last, alarm+" went"
		return []capture.Transition{raised, gone}
	}
	unwatched := story("short@0", 0, capture.Normal)
	unwatched[1].Say = capture.Unwatched("+5 V logic is short", "+5 V logic", "nothing stands on it")
	var b strings.Builder
	for _, l := range endedOf(slices.Concat(unwatched, story("missing@1", 0, capture.Normal), story("band@2", 10, capture.Latched), story("short@3", 20, capture.Normal))) {
		l.print(&b)
	}
	want := `10:00:20  warning, over: short@3 came
    ended 10:00:25: short@3 went
    short@3
10:00:00  warning, over: missing@1 came
    ended 10:00:05: missing@1 went
    missing@1
10:00:00  warning, over: short@0 came
    watched until 10:00:05, the fault need not have gone: nothing stands on it
    short@0
`
	if b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
}
