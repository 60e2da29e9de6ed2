package app_test

import (
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/configs"
	"steadyrail/drivers/sim"
)

// Another meter answers at the cable before the job is opened, and then a third
// one: the job's alarm names who is there and who was meant, and again.
func TestAJobKnowsWhoAnswersInstead(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, func(c *configs.Config) { c.Instruments[0].Expect = capture.Identity{Serial: "00123457"} })
	r.fault("swap links", sim.DMM, sim.DMM2)
	r.until("another one answers", func(s live.Snapshot) bool {
		in, _ := s.Instrument(sim.DMM)
		return !in.Up && strings.Contains(in.Problem, "00123458 is there")
	})
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.Soak, Text: "a test begins here"})
	_, err := r.Place(t.Context(), "", capture.Placement{Channel: volts(sim.DMM), Rail: five, Point: "TP5", Hold: capture.Clipped}) // it is away, and stays so
	r.must(err)
	named := func(serial string) capture.Transition {
		var a capture.Transition
		r.until("an alarm that names "+serial, func(s live.Snapshot) (ok bool) {
			a, ok = alarm(s, "silent", five)
			return ok && a.To == capture.Active && strings.Contains(a.Say, serial+" is there") && strings.Contains(a.Say, "00123457")
		})
		return a
	}
	first := named("00123458")
	r.act(capture.Act{Verb: capture.ActHeard, Subject: first.Alarm})
	r.fault("swap links", sim.DMM, sim.DMM3)
	if second := named("00123459"); second.Alarm != first.Alarm {
		t.Errorf("another alarm: %s after %s", second.Alarm, first.Alarm)
	}
	r.stop()
	lost := r.read(jobID).acts(capture.ActLinkLost, sim.DMM)
	if len(lost) < 2 || !strings.Contains(lost[0].Item.(capture.Act).Text, "00123458 is there") {
		t.Errorf("on record %+v", lost)
	}
}
