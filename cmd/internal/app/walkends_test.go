package app_test

import (
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
)

// Who places the walk's meter by hand is told that the walk ends with that, and the
// meter stays set to what was placed.
func TestPlacingByHandSaysThatTheWalkEnds(t *testing.T) {
	t.Parallel()
	r := newRig(t, 3)
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	_, err := r.DoWalk(t.Context(), "", dashboards.WalkAct{Do: "begin"})
	r.must(err)
	r.must(r.bench.Touch(sim.DMM, "TP5", capture.Clipped))
	ohms := capture.ChannelID(sim.DMM + "/ohms")
	res, err := r.Place(t.Context(), "", capture.Placement{Channel: ohms, Rail: five, Hold: capture.Clipped})
	r.must(err)
	if !strings.Contains(res.Say, "The walk with dmm ends with that") {
		t.Error(res.Say)
	}
	r.until("the walk is over and the meter reads ohms", func(s live.Snapshot) bool {
		v, err := r.Walk(t.Context(), "", 0)
		j, _ := s.Job(jobID)
		return err == nil && !v.Active && len(j.Rails) > 0 && j.Rails[0].Ohms != nil
	})
	r.readings(ohms, 3)
	res, err = r.Place(t.Context(), "", capture.Placement{Channel: ohms, Rail: five, Point: "TP5", Hold: capture.Clipped})
	r.must(err)
	if strings.Contains(res.Say, "The walk") {
		t.Errorf("none goes on: %s", res.Say)
	}
}
