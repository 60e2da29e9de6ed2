package app_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
	"steadyrail/rules/diagnose"
)

// Both ways round: the record says which reading is which, so that the rule, the
// report and a sheet that is saved from the job know it.
func TestColdWalkBothWays(t *testing.T) {
	t.Parallel()
	r := newRig(t, 3)
	board := sheet(t, jobID)
	board.Rails = slices.DeleteFunc(board.Rails, func(l capture.Rail) bool { return l.Name != five && l.Name != dsp })
	_, err := r.OpenJob(t.Context(), board)
	r.must(err)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	r.act(capture.Act{Verb: capture.ActPolarity, Subject: "dmm/ohms", Text: capture.Reverse}) // left so by whoever read last
	_, err = r.DoWalk(t.Context(), "", dashboards.WalkAct{Do: "begin", Both: true})
	r.must(err)
	h := &hands{rig: r, beep: r.clock.Now()}
	v := h.walkAll()
	if v.Done != 6 || v.Of != 6 {
		t.Errorf("%d of %d", v.Done, v.Of)
	}
	for _, row := range v.Rows {
		if row.Ohms.Text == "" || row.Reversed.Text == "" || row.Rail == five && !strings.Contains(row.Verdict, "leads reversed, forward ") {
			t.Errorf("%+v", row)
		}
	}
	h.do("end")
	d, err := r.Dossier(t.Context(), jobID)
	r.must(err)
	for _, rail := range d.Rails[:1] { // the short, whose figure stands at once
		if len(rail.Before) != 1 || len(rail.After) != 0 || rail.Reversed == nil || strings.Contains(rail.Before[0].Say, "reversed") || !strings.Contains(rail.Reversed.Say, "reversed") {
			t.Errorf("%s: before %+v, after %+v, reversed %+v", rail.Rail.Name, rail.Before, rail.After, rail.Reversed)
		}
	}
	var page strings.Builder
	r.must(r.Report(t.Context(), jobID, &page))
	if !strings.Contains(page.String(), "reversed 1.0") {
		t.Errorf("the report has no figure of the +5 V with the leads reversed: %.300q", page.String()[max(0, strings.Index(page.String(), "reversed")-200):])
	}
	r.stop()
	h.checkWays(t)
}

// With the leads exchanged the low one is on the rail: an earthed meter beside
// another on the return would short the two through earth, and is refused before
// the probe is in the hand.
func TestWalkBothWaysMindsEarth(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, isolation(sim.DMM, capture.Isolation{Port: "earthed"}), isolation(sim.DMM2, capture.Isolation{Port: "earthed"}))
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	r.place(capture.Placement{Channel: volts(sim.DMM2), Rail: twelve, Hold: capture.Clipped})
	_, err := r.DoWalk(t.Context(), "", dashboards.WalkAct{Do: "begin", Meter: sim.DMM, Both: true})
	refused(t, "both ways", err, dashboards.Refused, "would be shorted to", "through earth")
	_, err = r.DoWalk(t.Context(), "", dashboards.WalkAct{Do: "begin", Meter: sim.DMM})
	r.must(err)
	_, err = r.DoWalk(t.Context(), "", dashboards.WalkAct{Do: "end"})
	r.must(err)
}

// checkWays holds what the record says of the leads against the walk.
func (h *hands) checkWays(t *testing.T) {
	t.Helper()
	var trail diagnose.Trail
	var said []string
	rises := map[string]bool{} // rails of which a lower bound was filed, for they still charged: no steady figure
	for _, one := range h.read(jobID).records {
		trail.Consume(one)
		if p, ok := one.Item.(capture.Placement); ok && strings.Contains(p.Why, "still charging") {
			rises[p.Rail] = true
		}
		if act, ok := one.Item.(capture.Act); ok && act.Verb == capture.ActPolarity {
			said = append(said, act.Subject+" "+act.Text)
		}
	}
	if want := []string{"dmm/ohms reverse", "dmm/ohms forward", "dmm/ohms reverse", "dmm/ohms forward"}; !slices.Equal(said, want) {
		t.Errorf("said of the leads: %q", said)
	}
	rested := trail.Rested()
	for _, l := range rested {
		if both := l.Ohms > 0 && l.Reversed > 0; !both && !rises[l.Rail] || both && math.Abs(l.Reversed-l.Ohms) > 0.1*l.Ohms+0.1 {
			t.Errorf("%+v", l)
		}
	}
	if len(rested) != 2 && !rises[dsp] || rises[five] {
		t.Errorf("%+v, still charging %v", rested, rises)
	}
}
