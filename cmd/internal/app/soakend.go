package app

import (
	"fmt"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/live"
)

// endPlanned ends the soak of a plan that is done: by an act, with what came of
// it. Outputs and loads stay as the plan left them. It is asked at every tick, so
// that a program that ended between the last step and this act makes up for it.
func (a *App) endPlanned(j *openJob, s capture.RegimenState, view live.JobView) {
	stop := capture.Act{Verb: capture.ActSoak, Text: "stop", By: capture.ByPlan}
	soaks := j.book.Soaks()
	if n := len(soaks); n == 0 || soaks[n-1].From > s.From || j.book.Check(stop) != nil {
		return
	}
	stop.Subject = cameOf(s, alarmsSince(view, s.From))
	a.post(j, stop)
}

// cameOf says in one sentence what came of a plan.
func cameOf(s capture.RegimenState, alarms int) string {
	out := fmt.Sprintf("all %d steps are done, %s of %s under power", len(s.Steps), job.Span(s.Watched), job.Span(s.Needed))
	if len(s.Steps) == 1 {
		out = fmt.Sprintf("its one step is done, %s of %s under power", job.Span(s.Watched), job.Span(s.Needed))
	}
	if n := len(s.Parts); n > 1 {
		out += fmt.Sprintf(" in %d pieces", n)
	}
	if alarms == 0 {
		return out + ", no alarm came"
	}
	return out + ", " + counted(alarms, "alarm", "alarms") + " came"
}

// alarmsSince counts the alarms that came since an instant and are more than to be
// noticed.
func alarmsSince(view live.JobView, from capture.Instant) (n int) {
	for _, list := range [][]capture.Transition{view.Alarms, view.Past} {
		for _, t := range list {
			if t.Raised >= from && t.Severity > capture.Notice {
				n++
			}
		}
	}
	return n
}
