package app_test

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/drivers/sim"
)

// A supply that trips in a soak takes four rails with it, which are seen to fall before
// it is asked: one failure, told with all of them.
func TestATripOfTheSupplyIsOneFailureOfTheSoak(t *testing.T) {
	t.Parallel()
	r := newRig(t, 6)
	r.soak()
	r.act(capture.Act{Verb: capture.ActSoak, Text: "start", Value: 3600})
	r.pass(5 * time.Second)
	r.insist(capture.Act{Verb: capture.ActLimits, Subject: sim.Supply, Text: "over-current 0.05"})
	r.until("it is found off", func(s live.Snapshot) bool { _, ok := alarm(s, "found off", five); return ok })
	r.pass(3 * time.Second)
	if n, err := r.FailuresSoFar(jobID); n != 1 || err != nil {
		t.Errorf("%d failures while it lasts: %v", n, err)
	}
	r.act(capture.Act{Verb: capture.ActSoak, Text: "stop"})
	if n, err := r.FailuresSoFar(jobID); n != 1 || err != nil {
		t.Errorf("%d failures when it is over: %v", n, err)
	}
	d, err := r.Dossier(t.Context(), jobID)
	r.must(err)
	collapsed := 0
	for _, a := range d.Alarms {
		if a.Kind == "collapse" {
			collapsed++
		}
	}
	said := strings.Join(d.Soak.Say, " ")
	if d.Soak.Failures != 1 || collapsed < 2 || !strings.Contains(said, "One failure: supply switched its output off by itself: its over-current protection tripped; ") || strings.Contains(said, "fell first") {
		t.Errorf("%d failures, %d collapses: %s", d.Soak.Failures, collapsed, said)
	}
	if len(d.Outputs) != 1 || len(d.Outputs[0].Rails) != 4 {
		t.Errorf("what hangs on the supply: %+v", d.Outputs)
	}
}
