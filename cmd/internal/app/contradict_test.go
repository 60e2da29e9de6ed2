package app_test

import (
	"errors"
	"net/http"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
)

// A value typed in the cold checks on a rail that a meter has just read dead is
// asked back; nothing of it is filed until somebody is sure.
func TestTypedAgainstMeasuredIsAskedBack(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, pocket)
	r.open(jobID)
	ctx := t.Context()
	_, err := r.Enter(ctx, "", dashboards.Typed{Rail: "1", Text: "4.98"}) // taken in: nobody has measured, nobody says that it is off
	r.must(err)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	r.must(r.bench.Feed(sim.FeedNothing))
	r.put(sim.DMM, five, sim.Point5, capture.Clipped)
	r.until("the rail reads dead", func(s live.Snapshot) bool {
		v := railOf(t, s, five).Volts
		return v != nil && v.Reading.Channel == volts(sim.DMM) && v.Reading.Good()
	})

	_, err = r.Enter(ctx, "", dashboards.Typed{Rail: "1", Text: "4.98"})
	refused(t, "beside a dead rail", err, dashboards.Conflict, "dmm/volts has just read", "on "+five+", and 4.98 V was typed", "in the cold checks", "steadyrail enter 1 4.98 --sure")
	var d *dashboards.Doubt
	if !errors.As(err, &d) || len(d.Choices) != 1 || !d.Choices[0].Typed.Sure {
		t.Fatalf("no way to confirm: %+v", d)
	}
	if status, body := r.ask(http.MethodPost, "/api/v1/entries", `{"rail":"1","text":"4.98"}`, r.withToken); status != http.StatusConflict {
		t.Errorf("the API answers %d: %s", status, body)
	}
	_, err = r.Enter(ctx, "", dashboards.Typed{Rail: "2", Text: "11.9"}) // no meter there, but the stage
	refused(t, "volts in the cold checks", err, dashboards.Conflict, "in the cold checks the set has no power", "--sure")
	_, err = r.Enter(ctx, "", dashboards.Typed{Rail: "1", Text: "12.07"}) // another rail's, and not cold either
	refused(t, "wrong twice", err, dashboards.Conflict, "is it "+twelve, "has just read")
	if v := railOf(t, r.Snapshot(), five).Volts; v.Reading.Flags.Has(capture.ByEye) {
		t.Errorf("filed all the same: %+v", v)
	}

	if status, body := r.ask(http.MethodPost, "/api/v1/entries", `{"rail":"1","text":"4.98","sure":true}`, r.withToken); status != http.StatusCreated {
		t.Errorf("who is sure: %d %s", status, body)
	}
	r.enter("1", "0.00", "pocket")
	r.enter("1", "0.84 ohm", "")
}

// What was measured before the board was changed, or long ago, is held against
// nothing; under power a rail goes on and off by hand.
func TestAnOldReadingIsNotHeldAgainst(t *testing.T) {
	t.Parallel()
	r := newRig(t, 30, pocket)
	r.open(jobID)
	r.must(r.bench.Feed(sim.FeedNothing))
	r.put(sim.DMM, five, sim.Point5, capture.Clipped)
	dead := func(s live.Snapshot) bool {
		v := railOf(t, s, five).Volts
		return v != nil && v.Reading.Channel == volts(sim.DMM) && v.Reading.Good()
	}
	r.until("the rail reads dead", dead)
	_, err := r.Enter(t.Context(), "", dashboards.Typed{Rail: "1", Text: "4.98"})
	refused(t, "while the meter stands there", err, dashboards.Conflict, "has just read")
	r.place(capture.Placement{Channel: volts(sim.DMM)})
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.LiveChecks, Text: "a test begins here"})
	r.enter("1", "4.98", "pocket") // the stage says that it is on now

	r.put(sim.DMM, twelve, sim.Point12, capture.Clipped)
	r.until("the other rail reads dead", func(s live.Snapshot) bool { return railOf(t, s, twelve).Volts != nil })
	r.place(capture.Placement{Channel: volts(sim.DMM)})
	r.pass(10 * time.Second)
	r.enter("2", "12.07", "")
}
