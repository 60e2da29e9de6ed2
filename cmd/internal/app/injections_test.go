package app_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
)

// inject begins an injection, also where the computer is busy.
func (r *rig) inject() (say string) {
	r.t.Helper()
	for end := time.Now().Add(patience); ; {
		r.untilUp(sim.Supply, true)
		code := r.permit(dashboards.PermitRequest{Kind: dashboards.PermitInject, Subject: sim.Supply, Volts: 0.3, Trace: 1, Part: 0.5, Lead: 2})
		res, err := r.SwitchOn(r.t.Context(), "", dashboards.SwitchOn{Subject: sim.Supply, Permit: code})
		if err == nil {
			return res.Say
		}
		r.unlessBusy(err, end)
	}
}

// A job that is closed while it injects ends the injection first. Where nothing
// confirms that the output is off, the job stays open and an urgent alarm calls.
func TestCloseInAnInjection(t *testing.T) {
	t.Parallel()
	r := newRig(t, 1)
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	r.enter(five, "0.84 ohm", "")
	r.inject()
	r.fault("relay welded")
	_, err := r.Act(t.Context(), "", capture.Act{Verb: capture.ActClose})
	refused(t, "a close that leaves it on", err, dashboards.Conflict, "NOT confirmed off", "by hand")
	r.until("an urgent alarm of it", func(s live.Snapshot) bool {
		got, ok := alarm(s, "injection", five)
		return ok && got.Severity == capture.Urgent && got.To == capture.Active && strings.Contains(got.Say, "NOT confirmed off") && strings.Contains(got.Advice, "by hand")
	})
	r.until("it was told", func(live.Snapshot) bool { return strings.Contains(r.out.String(), "NOT confirmed off") })
	r.fault("clear")
	r.in("", capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "off"})
	r.until("the alarm has gone", func(s live.Snapshot) bool {
		got, ok := alarm(s, "injection", five)
		return !ok || got.To != capture.Active
	})
	r.inject()
	if !r.isOn() {
		t.Fatal("the output is not on")
	}
	r.in("", capture.Act{Verb: capture.ActClose})
	if r.isOn() {
		t.Error("a job was closed while its injection went on")
	}
	r.stop()
	list := r.read(jobID).acts(capture.ActInject, sim.Supply)
	if last := list[len(list)-1].Item.(capture.Act); last.Text != "ended before its time" {
		t.Errorf("the last word on it: %+v", last)
	}
}

// A stage that is entered while a short is walked down ends the injection first,
// and says so; where that is not confirmed, the job stays in its stage.
func TestStageInAnInjection(t *testing.T) {
	t.Parallel()
	r := newRig(t, 1)
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	r.enter(five, "0.84 ohm", "")
	r.inject()
	res := r.act(capture.Act{Verb: capture.ActStage, Stage: capture.Isolate})
	if !strings.Contains(res.Say, "The injection through supply was ended first: its output is off.") || r.isOn() {
		t.Errorf("on %v: %q", r.isOn(), res.Say)
	}
	if res := r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks, Text: "once more"}); strings.Contains(res.Say, "injection") {
		t.Errorf("nothing was injected: %q", res.Say)
	}
	r.inject()
	r.fault("relay welded")
	_, err := r.Act(t.Context(), "", capture.Act{Verb: capture.ActStage, Stage: capture.Isolate})
	refused(t, "a stage that leaves it on", err, dashboards.Conflict, "enter isolate", "NOT confirmed off", "by hand")
	if j, _ := r.Snapshot().Job(jobID); j.Stage != capture.ColdChecks {
		t.Errorf("it is in %s", j.Stage)
	}
	r.fault("clear")
}

// An injection that a person ends by hand is switched off once in the record, and its
// end is told; one whose time is over says by itself that it is off.
func TestAnInjectionEndedByHandIsOffOnce(t *testing.T) {
	t.Parallel()
	r := newRig(t, 4)
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	r.enter(five, "0.84 ohm", "")
	r.inject()
	r.in("", capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "off"})
	r.until("the injection is over", func(s live.Snapshot) bool {
		j, _ := s.Job(jobID)
		return len(j.Entries) > 0 && strings.Contains(j.Entries[len(j.Entries)-1].Text, "ended before its time")
	})
	r.stop()
	s := r.read(jobID)
	var texts []string
	for _, rec := range s.acts(capture.ActOutput, sim.Supply) {
		a := rec.Item.(capture.Act)
		texts = append(texts, strings.TrimSpace(a.Text+" "+a.By))
	}
	if got, want := strings.Join(texts, ", "), "on R. Hale, switching off R. Hale, off R. Hale"; got != want {
		t.Errorf("acts: %s, want %s", got, want)
	}
	if r.isOn() {
		t.Error("the output is on")
	}
}

// On the board's input nothing flows at a third of a volt: whoever injects is told so
// with the figures, and the record has it once.
func TestAnInjectionInWhichNextToNothingFlows(t *testing.T) {
	t.Parallel()
	r := newRig(t, 2)
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	r.enter(five, "0.84 ohm", "")
	say := r.inject()
	const news = "ext to nothing flows: "
	if !strings.Contains(say, "N"+news) || !strings.Contains(say, "of at most 0.5 A") || !strings.Contains(say, "of 0.3 V: the short is not there now, or a lead is off.") {
		t.Errorf("%q", say)
	}
	r.pass(4 * time.Second)
	r.in("", capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "off"})
	r.stop()
	told := 0
	for _, rec := range r.read(jobID).acts(capture.ActNote, "") {
		if a := rec.Item.(capture.Act); a.By == capture.ByInject && strings.HasPrefix(a.Text, "injection through supply: n"+news) {
			told++
		}
	}
	if told != 1 {
		t.Errorf("it stands in the record %d times", told)
	}
}

// A short is walked down to its end: its current is said, what is short is lifted while
// it flows, and the record says that next to nothing flows then.
func TestAnInjectionFindsWhatIsShort(t *testing.T) {
	t.Parallel()
	r := newRig(t, 8)
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	r.enter(five, "0.84 ohm", "")
	r.must(r.bench.Feed(sim.FeedRail5))
	say := r.inject()
	if !strings.Contains(say, " of at most 0.5 A flows, at ") || strings.Contains(say, "ext to nothing") {
		t.Errorf("%q", say)
	}
	r.must(r.bench.Unplug(sim.PS2))
	entry := func(words string) func(live.Snapshot) bool {
		return func(s live.Snapshot) bool {
			j, _ := s.Job(jobID)
			return slices.ContainsFunc(j.Entries, func(e capture.Entry) bool { return strings.Contains(e.Text, words) })
		}
	}
	r.until("next to nothing flows", entry("next to nothing flows"))
	r.until("its minute is over", entry("its time is over"))
	if r.isOn() {
		t.Error("the output is on")
	}
}
