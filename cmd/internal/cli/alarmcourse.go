package cli

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"steadyrail/capture"
	folded "steadyrail/capture/job"
	"steadyrail/capture/store"
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

// endedIn lists the alarms of a job that are over, from its record.
func endedIn(ctx context.Context, s streams, dir, job string) (out []listed, err error) {
	err = readJob(ctx, s, dir, job, func(f *store.Job, _ *folded.Book) error {
		steps, err := f.Transitions(ctx)
		out = endedOf(steps)
		return err
	})
	return out, err
}

// endedOf lists the alarms that are over by their steps, the last raised first.
func endedOf(steps []capture.Transition) (out []listed) {
	var all []listed
	at := map[string]int{} // by alarm
	for _, t := range steps {
		i, known := at[t.Alarm]
		if !known {
			i = len(all)
			at[t.Alarm], all = i, append(all, listed{})
		}
		all[i].Transition = t
		all[i].Course.Take(t)
	}
	for _, l := range slices.Backward(all) {
		if l.To == capture.Normal {
			out = append(out, l)
		}
	}
	return out
}

// print says an alarm with the figure it was raised with, its worst and the one it
// ended with, each with its own time.
func (l listed) print(out io.Writer) {
	c := l.Course
	state := stateWords(l.Transition)
	if l.To == capture.Normal {
		state = strings.Replace(state, l.To.String(), "over", 1)
	}
	fmt.Fprintf(out, "%s  %s, %s: %s\n", alarmClock(c.Raised.At), l.Severity, state, c.Raised.Say)
	if c.Came > 1 {
		fmt.Fprintf(out, "    came %d times\n", c.Came)
	}
	if c.Worst != nil {
		fmt.Fprintf(out, "    worst %s: %s\n", alarmClock(c.Worst.At), c.Worst.Say)
	}
	if c.Ended != nil {
		fmt.Fprintf(out, "    %s\n", endedHow(*c.Ended))
	}
	fmt.Fprintf(out, "    %s\n", l.Alarm)
}

// endedHow tells the step by which an alarm's condition went: that nothing watches it
// any more is no end of it.
func endedHow(t capture.Transition) string {
	if why, unwatched := capture.UnwatchedIn(t.Say); unwatched {
		return "watched until " + alarmClock(t.At) + ", the fault need not have gone: " + why
	}
	return "ended " + alarmClock(t.At) + ": " + t.Say
}

func alarmClock(at capture.Instant) string { return at.Time().Local().Format("15:04:05") }
