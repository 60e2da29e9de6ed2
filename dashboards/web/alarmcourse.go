package web

import (
	"slices"

	"steadyrail/capture"
)

// step is one step of an alarm, with the figure of its own time.
type step struct{ Name, Say string }

// course tells the steps of an open alarm that its latest does not tell: the one
// that raised it, and its worst.
func (v *view) course(t capture.Transition) (out []step) {
	i := slices.IndexFunc(v.Job.Courses, func(c capture.AlarmCourse) bool { return c.Alarm == t.Alarm })
	if i < 0 {
		return nil
	}
	c := v.Job.Courses[i]
	if c.Raised.At != t.At {
		out = append(out, v.step("Raised", c.Raised))
	}
	if c.Worst != nil && c.Worst.At != t.At {
		out = append(out, v.step("Worst", *c.Worst))
	}
	return out
}

func (v *view) step(name string, t capture.Transition) step {
	return step{name, v.clock(t.At) + ": " + glue(capture.TrueMinus(t.Say))}
}
