package app

import (
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// cautionsOf says what stands beside a stage that is entered, once a job: what
// was read, or was said with an earlier stage, is not said again.
func cautionsOf(j *openJob, act capture.Act) string {
	if act.Verb != capture.ActStage {
		return ""
	}
	return cautionsIn(j, act.Stage, j.book.Stages())
}

// cautionsIn says those of a stage that none of the stages before has said, and
// once for all of them what governs the work.
func cautionsIn(j *openJob, stage capture.Stage, been []capture.StageSpan) string {
	var lines []string
	for _, c := range capture.CautionsDue(stage, j.book.Sheet().Rails, wasRead(j)) {
		said := slices.ContainsFunc(been, func(s capture.StageSpan) bool { return slices.Contains(c.Stages, s.Stage) })
		if !said {
			lines = append(lines, c.Say)
		}
	}
	if len(lines) == 0 {
		return ""
	}
	return "\n" + strings.Join(lines, "\n") + "\n" + capture.Cautions()[0].Law
}

func wasRead(j *openJob) func(key string) bool {
	entries := j.book.Entries()
	return func(key string) bool {
		return slices.ContainsFunc(entries, func(e capture.Entry) bool { return e.Act.Verb == capture.ActCaution && e.Act.Subject == key })
	}
}

// notes stand beside a permit. That of an injection is the caution of its own
// until it was read.
func notes(j *openJob, kind string) []string {
	for _, c := range capture.Cautions() {
		if kind == dashboards.PermitInject && c.Key == capture.CautionInject && !wasRead(j)(c.Key) {
			return []string{c.Say, c.Law}
		}
	}
	return capture.TripCaution[:]
}
