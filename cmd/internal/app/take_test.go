package app_test

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
)

// take has the job take something, also on a computer that is too busy to answer
// in time.
func (r *rig) take(act capture.Act) dashboards.Result {
	r.t.Helper()
	for end := time.Now().Add(patience); ; {
		res, err := r.Act(r.t.Context(), "", act)
		if err == nil {
			return res
		}
		r.unlessBusy(err, end)
	}
}

// One meter watches a voltage and is asked for ohms by the job: it is switched,
// settles, its readings are filed where it stands, and it goes back.
func TestTake(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	r.put(sim.DMM, five, sim.Point5, capture.Clipped)
	r.readings(volts(sim.DMM), 8)
	take := capture.Act{Verb: capture.ActTake, Subject: "dmm/ohms", Text: five, Value: 5}
	res := r.take(take)
	if !strings.Contains(res.Say, "the last of 5") || !strings.Contains(res.Say, "dmm/volts is on +5 V logic") {
		t.Error(res.Say)
	}
	r.readings(volts(sim.DMM), 8)
	for what, act := range map[string]capture.Act{
		"no such rail":  {Verb: capture.ActTake, Subject: "dmm/ohms", Text: "+9 V"},
		"no such input": {Verb: capture.ActTake, Subject: "dmm/farads", Text: five},
	} {
		_, err := r.Act(t.Context(), "", act)
		refused(t, what, err, dashboards.NotFound)
	}
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.LiveChecks, Text: "a test"})
	_, err := r.Act(t.Context(), "", take)
	refused(t, "under power", err, dashboards.Refused, "under power is no measurement")
	r.stop()

	rec := r.read(jobID)
	settle := 100 * time.Millisecond
	var places capture.Placements
	var since capture.Instant
	n := map[capture.Quantity]int{}
	for _, one := range rec.records {
		switch it := one.Item.(type) {
		case capture.Placement:
			r.must(places.Apply(one.At, it))
			if it.Channel == volts(sim.DMM) && it.Rail == five && !strings.Contains(it.Why, "range held for up to") {
				t.Errorf("clipped without a held range: %+v", it)
			}
			if it.Channel.Instrument() == sim.DMM {
				since = one.At
			}
		case capture.Reading:
			at, _ := places.At(it.Channel, one.At)
			if it.Channel.Instrument() != sim.DMM || at.Rail == "" {
				continue
			}
			n[it.Quantity]++
			if it.Measured < since {
				t.Fatalf("%+v begun before %s, settling %v", it, since, settle)
			}
		}
	}
	if n[capture.Resistance] < 5 || n[capture.Resistance] > 8 || n[capture.DCVoltage] < 10 {
		t.Errorf("readings %v", n)
	}
}
