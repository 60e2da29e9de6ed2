package capture

import "testing"

// An alarm keeps the figure it was raised with, its worst and the one it ended with,
// whatever came later: heard, come again, told anew.
func TestAlarmCourse(t *testing.T) {
	step := func(from, to AlarmState, say string, v float64) Transition {
		return Transition{Alarm: "collapse +5 V logic@1", From: from, To: to, Say: say, Value: v, Limit: 4.7, Unit: "V"}
	}
	raised, ended := step(Normal, Active, "fell to 3.1", 3.1), step(Active, Latched, "down to 3.1", 3.1)
	for name, c := range map[string]struct {
		steps        []Transition
		came         int
		worst, ended string
	}{
		"there":                 {[]Transition{raised}, 1, "", ""},
		"ended":                 {[]Transition{raised, ended}, 1, "", "down to 3.1"},
		"heard since":           {[]Transition{raised, ended, step(Latched, LatchedHeard, "fell to 3.1", 3.1)}, 1, "", "down to 3.1"},
		"ended with its worst":  {[]Transition{raised, step(Active, Latched, "down to 2.0", 2)}, 1, "", "down to 2.0"},
		"came again":            {[]Transition{raised, step(Active, Latched, "down to 2.0", 2), step(Latched, Active, "fell to 3.5", 3.5)}, 2, "down to 2.0", ""},
		"and ended":             {[]Transition{raised, step(Active, Latched, "down to 2.0", 2), step(Latched, Active, "fell to 3.5", 3.5), step(Active, Latched, "down to 3.4", 3.4)}, 2, "down to 2.0", "down to 3.4"},
		"worse the second time": {[]Transition{raised, ended, step(Latched, Active, "fell to 1.5", 1.5), step(Active, Latched, "down to 1.4", 1.4)}, 2, "", "down to 1.4"},
		"worse in between":      {[]Transition{raised, step(Active, Active, "now 1.0", 1), step(Active, Latched, "inside again", 5)}, 1, "now 1.0", "inside again"},
		"another limit":         {[]Transition{raised, {From: Active, To: Active, Say: "high", Value: 9, Limit: 5.1, Unit: "V"}}, 1, "", ""},
	} {
		var course AlarmCourse
		for _, s := range c.steps {
			course.Take(s)
		}
		say := func(t *Transition) string {
			if t == nil {
				return ""
			}
			return t.Say
		}
		if course.Came != c.came || course.Raised.Say != "fell to 3.1" || say(course.Worst) != c.worst || say(course.Ended) != c.ended {
			t.Errorf("%s: came %d, raised %q, worst %q, ended %q", name, course.Came, course.Raised.Say, say(course.Worst), say(course.Ended))
		}
	}
	high := AlarmCourse{}
	high.Take(Transition{Alarm: "high", To: Active, Value: 5.2, Limit: 5.1})
	high.Take(Transition{Alarm: "high", From: Active, To: Active, Value: 5.4, Limit: 5.1})
	if high.Worst == nil || high.Worst.Value != 5.4 {
		t.Errorf("above a limit: %+v", high.Worst)
	}
}
