package cli

import (
	"fmt"
	"io"
	"slices"

	"steadyrail/capture"
)

// listed is an open alarm as it is listed: its latest step, and the steps that its
// figures are of.
type listed struct {
	capture.Transition
	Course capture.AlarmCourse `json:"course"`
}

// withCourses puts each alarm's course beside it. A daemon of another version may
// tell of none: then the latest step is all there is.
func withCourses(alarms []capture.Transition, courses []capture.AlarmCourse) []listed {
	out := make([]listed, 0, len(alarms))
	for _, t := range alarms {
		l := listed{t, capture.AlarmCourse{Alarm: t.Alarm, Raised: t}}
		if i := slices.IndexFunc(courses, func(c capture.AlarmCourse) bool { return c.Alarm == t.Alarm }); i >= 0 {
			l.Course = courses[i]
		}
		out = append(out, l)
	}
	return out
}

// print says an alarm with the figure it was raised with, its worst and the one it
// ended with, each with its own time.
func (l listed) print(out io.Writer) {
	c := l.Course
	fmt.Fprintf(out, "%s  %s, %s: %s\n", alarmClock(c.Raised.At), l.Severity, stateWords(l.Transition), c.Raised.Say)
	if c.Came > 1 {
		fmt.Fprintf(out, "    came %d times\n", c.Came)
	}
	if c.Worst != nil {
		fmt.Fprintf(out, "    worst %s: %s\n", alarmClock(c.Worst.At), c.Worst.Say)
	}
	if c.Ended != nil {
		fmt.Fprintf(out, "    ended %s: %s\n", alarmClock(c.Ended.At), c.Ended.Say)
	}
	fmt.Fprintf(out, "    %s\n", l.Alarm)
}

func alarmClock(at capture.Instant) string { return at.Time().Local().Format("15:04:05") }
