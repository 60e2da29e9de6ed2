package web

import (
	"reflect"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// An alarm that came back is listed with the figure that raised it and with its
// worst, each with its time; its latest step is told already.
func TestAnAlarmIsShownWithTheStepsOfItsOwn(t *testing.T) {
	at := func(s int64, value float64, say string, from, to capture.AlarmState) capture.Transition {
		return capture.Transition{Alarm: "low", At: capture.Instant(s * 1e6), Value: value, Limit: 4.9, Unit: "V", Say: say, From: from, To: to}
	}
	steps := []capture.Transition{
		at(1, 4.8, "-12 V audio is low: 4.8 V", capture.Normal, capture.Active),
		at(5, 3.1, "-12 V audio is low: 3.1 V", capture.Active, capture.Active),
		at(9, 4.7, "-12 V audio is low: 4.7 V", capture.Active, capture.Active),
	}
	var c capture.AlarmCourse
	var told [][]step
	v := view{zone: time.UTC}
	for _, s := range steps {
		c.Take(s)
		v.Job.Courses = []capture.AlarmCourse{{Alarm: "another"}, c}
		told = append(told, v.course(s))
	}
	raised := step{"Raised", v.clock(steps[0].At) + ": " + glue("−12 V audio is low: 4.8 V")}
	worst := step{"Worst", v.clock(steps[1].At) + ": " + glue("−12 V audio is low: 3.1 V")}
	want := [][]step{nil, {raised}, {raised, worst}}
	if !reflect.DeepEqual(told, want) {
		t.Errorf("got  %q\nwant %q", told, want)
	}
	v.Job = live.JobView{}
	if got := v.course(steps[0]); got != nil {
		t.Errorf("of no course: %q", got)
	}
}
