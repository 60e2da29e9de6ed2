package app_test

import (
	"errors"
	"testing"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// A lift before the stage of lifts is asked back and filed nowhere, until it is said
// to be so; in its stage it is taken at once.
func TestLiftBeforeItsStage(t *testing.T) {
	t.Parallel()
	r := newBench(t, 5)
	r.start()
	r.open(jobID)
	isolate := r.Isolator()
	lift := func(part string, sure bool) error {
		_, err := isolate.File(t.Context(), "", dashboards.IsolateAsk{Entry: "lift " + part, Sure: sure})
		return err
	}
	for _, stage := range []capture.Stage{"", capture.TakeIn, capture.ColdChecks} {
		if now, _ := r.Snapshot().Job(jobID); stage != "" && now.Stage != stage {
			r.act(capture.Act{Verb: capture.ActStage, Stage: stage})
		}
		err := lift("C104", false)
		refused(t, "a lift in "+string(stage), err, dashboards.Conflict, "lift C104", "belongs to the stage isolate", "nothing was filed", "--yes lift C104")
		if !errors.Is(err, dashboards.ErrLiftedEarly) {
			t.Errorf("%v is not told by its cause", err)
		}
	}
	r.must(lift("C104", true))
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.Isolate})
	r.must(lift("PS2", false))
	r.stop()
	for _, part := range []string{"C104", "PS2"} {
		if n := len(r.read(jobID).acts(capture.ActLift, part)); n != 1 {
			t.Errorf("%s was lifted %d times in the record", part, n)
		}
	}
}

// Which way round is said of channels that the bench has and that read resistance.
func TestPolarityOfWhat(t *testing.T) {
	t.Parallel()
	r := newBench(t, 5)
	r.start()
	r.open(jobID)
	for subject, want := range map[string]dashboards.Kind{"x": dashboards.NotFound, "dmm/volts": dashboards.Invalid} {
		_, err := r.Act(t.Context(), "", capture.Act{Verb: capture.ActPolarity, Subject: subject, Text: capture.Forward})
		refused(t, subject, err, want, "polarity of "+subject, "dmm/ohms")
	}
	r.act(capture.Act{Verb: capture.ActPolarity, Subject: "dmm/ohms", Text: capture.Reverse})
}
