package app_test

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// TestCautionsOnceAJob: the command line says a caution when its stage is entered
// first, and not again; the screens until it was read, also after a restart.
func TestCautionsOnceAJob(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	res, err := r.OpenJob(t.Context(), sheet(t, jobID))
	r.must(err)
	enter := func(stage capture.Stage) string {
		return r.act(capture.Act{Verb: capture.ActStage, Stage: stage, Text: "a test"}).Say
	}
	keep, iron := "Capacitors keep their charge", "The iron is earthed"
	if strings.Count(res.Say, keep) != 1 || strings.Count(res.Say, "Local codes") != 1 || strings.Contains(res.Say, iron) || strings.Contains(res.Say, "mains side") {
		t.Error(res.Say)
	}
	if say := enter(capture.ColdChecks); strings.Contains(say, keep) || strings.Contains(say, "Local codes") {
		t.Error(say)
	}
	if say := enter(capture.Isolate); strings.Contains(say, keep) || !strings.Contains(say, iron) {
		t.Error(say)
	}
	if say := enter(capture.ColdChecks); strings.Contains(say, keep) || strings.Contains(say, "Local codes") {
		t.Error(say)
	}
	r.act(capture.Act{Verb: capture.ActCaution, Subject: capture.CautionCapacitors})
	r.stop()
	r.start()
	if j, _ := r.Snapshot().Job(jobID); len(j.Cautioned) != 1 || j.Cautioned[0] != capture.CautionCapacitors {
		t.Errorf("%v", j.Cautioned)
	}
	if code, body := r.ask("GET", "/api/v1/cautions", ""); code != 200 || !strings.Contains(body, `"cautions":[]`) {
		t.Error(code, body)
	}
	if code, body := r.ask("POST", "/api/v1/acts", `{"verb":"caution read","subject":"weather"}`, r.withToken); code != 400 || !strings.Contains(body, "capacitors") {
		t.Error(code, body)
	}
}
