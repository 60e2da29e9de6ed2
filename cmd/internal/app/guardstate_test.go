package app_test

import (
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
)

// The permit, the trip and the record claim of a supply's own protection what it
// confirmed: on, no such switch, and one that stays off.
func TestGuardStateIsClaimedAsConfirmed(t *testing.T) {
	t.Parallel()
	r := newRig(t, 4, withTrip)
	r.open(jobID)
	r.must(r.bench.Unplug(sim.PS2))
	r.must(r.bench.Plug(sim.StandIn))
	r.cold()
	limits := capture.Act{Verb: capture.ActLimits, Subject: sim.Supply, Text: feedLimits}
	power := dashboards.PermitRequest{Kind: dashboards.PermitPower, Subject: sim.Supply}
	for _, c := range []struct{ fault, trip, claim string }{
		{"", "Trip armed through supply", "protected by over-voltage 26 V and over-current 2.2 A, read back as on."},
		{"no guard switch", "Trip armed through supply; its over-voltage protection: level 26 V set, state not confirmed",
			"protected by nothing that is known to be on; over-voltage protection: level 26 V set, state not confirmed; over-current protection: level 2.2 A set, state not confirmed."},
	} {
		if c.fault != "" {
			r.fault(c.fault)
		}
		r.insist(limits)
		r.coldStands()
		r.trip(c.trip)
		got, err := r.Permit(t.Context(), "", power)
		r.must(err)
		if !strings.HasSuffix(got.Say, c.claim) {
			t.Errorf("%s: %q", c.fault, got.Say)
		}
	}
	r.fault("clear")
	r.fault("guard stays off")
	_, err := r.Act(t.Context(), "", limits)
	refused(t, "a protection that stays off", err, dashboards.Refused, "over-current protection reads back as off")
	workMakesThePermitStale(r, power)
	refusedNamesWhatTripped(r, power)
	r.stop()
	var texts []string
	for _, rec := range r.read(jobID).acts(capture.ActLimits, sim.Supply) {
		texts = append(texts, rec.Item.(capture.Act).Text)
	}
	// the last is of a supply that is well again
	if len(texts) < 3 || !strings.HasSuffix(texts[0], "over-current 2.2 (on), output off") || !strings.HasSuffix(texts[1], "over-current 2.2 (state not confirmed), output off") {
		t.Errorf("limits in the record: %q", texts)
	}
	for _, rec := range r.read(jobID).acts(capture.ActOutput, sim.Supply) {
		if rec.Item.(capture.Act).Text == capture.NotConfirmed {
			t.Error("a supply that refused to go on is told as one that may be on")
		}
	}
}

// coldStands holds that no cold check is told as of before something: nothing was
// energised since.
func (r *rig) coldStands() {
	r.t.Helper()
	r.until("the cold checks are kept", func(s live.Snapshot) bool {
		j, _ := s.Job(jobID)
		kept := 0
		for _, rail := range j.Rails {
			for _, v := range rail.Verdicts {
				if v.Kind != "short" || v.Held.At == 0 {
					continue
				}
				if kept++; v.Held.Since != 0 {
					r.t.Errorf("%s: %+v", rail.Rail.Name, v.Held)
				}
			}
		}
		return kept > 0
	})
}

// workMakesThePermitStale works on the board after its cold checks: the permit is
// refused until the rails were read again, also after a start of the program.
func workMakesThePermitStale(r *rig, power dashboards.PermitRequest) {
	r.t.Helper()
	stale := func(what string, words ...string) {
		r.t.Helper()
		_, err := r.Permit(r.t.Context(), "", power)
		refused(r.t, what, err, dashboards.Refused, append(words, "older than work on the board", "read "+five, "in ohms again")...)
		say, do := r.ColdAged("")
		refused(r.t, what+", as the pages say it", err, dashboards.Refused, say, do)
		if say == "" || do == "" {
			r.t.Errorf("%s: the pages say %q and %q", what, say, do)
		}
	}
	r.act(capture.Act{Verb: capture.ActPutBack, Subject: "C14"})
	stale("a part that no sheet has", five+" passed last at ", "then C14 was put back at ", dsp+" passed last at ")
	r.stop()
	r.start()
	r.untilUp(sim.Supply, true)
	stale("after a start", five+" passed last at ", "then C14 was put back at ")
	r.fault("clear")
	r.cold()
	if say, do := r.ColdAged(""); say != "" || do != "" {
		r.t.Errorf("read again: %q, %q", say, do)
	}
	r.on()
}

// refusedNamesWhatTripped sets the over-current protection below what the set takes,
// and switches on once more: the supply answers no more than -221.
func refusedNamesWhatTripped(r *rig, power dashboards.PermitRequest) {
	r.t.Helper()
	r.insist(capture.Act{Verb: capture.ActLimits, Subject: sim.Supply, Text: "over-current 0.05"})
	r.until("its own protection has tripped", func(live.Snapshot) bool { return !r.isOn() })
	r.until("an urgent alarm names it", func(s live.Snapshot) bool {
		got, ok := alarm(s, "found off", five)
		return ok && got.Say == "supply switched its output off by itself: its over-current protection tripped" && got.Advice == capture.TrippedAdvice && got.Severity == capture.Urgent
	})
	_, err := r.SwitchOn(r.t.Context(), "", dashboards.SwitchOn{Subject: sim.Supply, Permit: r.permit(power)})
	refused(r.t, "after its own trip", err, dashboards.Refused, "-221", "its over-current protection has tripped", "find out why", "OUTP:PROT:CLE")
}
