package app_test

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/drivers"
	"steadyrail/drivers/sim"
)

// planned has a plan checked and agreed to.
func (r *rig) planned(plan capture.Regimen) dashboards.SoakAnswer {
	r.t.Helper()
	a, err := r.PlanSoak(r.t.Context(), "", dashboards.SoakRequest{Plan: &plan})
	r.must(err)
	if a.Permit == nil {
		r.t.Fatal("it switches, and nobody was asked")
	}
	if a, err = r.PlanSoak(r.t.Context(), "", dashboards.SoakRequest{Permit: a.Permit.Code}); err != nil {
		r.t.Fatal(err)
	}
	return a
}

func (r *rig) soakIs(what string, done func(capture.RegimenState) bool) capture.RegimenState {
	r.t.Helper()
	var s capture.RegimenState
	defer func() {
		if r.t.Failed() {
			r.t.Logf("%s: %s", what, strings.Join(s.Say, " "))
		}
	}()
	r.until(what, func(live.Snapshot) bool {
		var err error
		s, err = r.SoakState("")
		return err == nil && done(s)
	})
	return s
}

// patientRails has silence told late: on a busy computer the simulated meters pause,
// and an alarm ends a plan.
func patientRails(c *configs.Config) {
	for _, clip := range clips {
		c.Rules = append(c.Rules, capture.Rule{Name: "silent " + clip.rail, Kind: "silent", Rail: clip.rail, Severity: capture.Warning, OnDelay: 10 * time.Minute, Window: 10 * time.Minute})
	}
}

// eload puts an electronic load on the bench, and lets plans set it.
func (r *rig) eload() *sim.ELoad {
	r.t.Helper()
	far, err := sim.NewELoad(r.bench)
	r.must(err)
	r.t.Cleanup(far.Close)
	r.cfg.Instruments = append(r.cfg.Instruments, drivers.Config{
		Name: "load", Model: "scpi-load", Link: far.Link(), Simulated: true, Acts: []string{"input", "limits"}, OnExit: drivers.ExitLeave,
		Isolation: capture.Isolation{Category: "CAT II 300 V", Port: "isolated", PortVolts: 300},
	})
	return far
}

// waiting is how fast the clock runs while a plan has nothing but to wait for.
const waiting = 8

// A plan sets input and load, switches power off and on as a person agreed to,
// survives a restart without switching anything, goes on when somebody lets it, and
// ends the soak when it is done. The next one is ended by an alarm.
func TestPlansOfASoak(t *testing.T) { // alone: what is late by the computer is late by its faster clock
	if raced {
		t.Skip("the race detector takes so much of the computer that the faster clock makes alarms")
	}
	r := newBench(t, 4, patientRails)
	far := r.eload()
	r.start()
	r.soak()
	r.refusedPlans()
	r.insist(capture.Act{Verb: capture.ActLimits, Subject: "load", Text: "amperes 0.2"})
	r.insist(capture.Act{Verb: capture.ActInput, Subject: "load", Text: "on"})
	plan := capture.Regimen{For: 130, Steps: []float64{23}, Loads: []float64{0.5}, Load: "load", Each: 10, Cycles: 2, On: 15, Off: 6, Output: sim.Supply}
	if a := r.planned(plan); !strings.Contains(a.Say, "Its plan: ") || !strings.Contains(a.Say, "load set to 500 mA") && !strings.Contains(a.Say, "load set to 0.50 A") {
		t.Errorf("%q", a.Say)
	}
	r.clock.SetSpeed(waiting)
	r.soakIs("the load is set", func(s capture.RegimenState) bool { return s.Step > 0 && s.Steps[s.Step-1].Kind == capture.StepLoad })
	if far.Draws() != 0.5 {
		t.Errorf("the load draws %g A", far.Draws())
	}
	r.soakIs("the first cycle is off", func(s capture.RegimenState) bool { return s.Step > 0 && s.Steps[s.Step-1].Kind == capture.StepOff })
	r.soakIs("the first cycle is on again", func(s capture.RegimenState) bool { return s.Step > 0 && s.Steps[s.Step-1].Kind == capture.StepOn })
	if !r.isOn() {
		t.Error("it is said to be on, and is off")
	}
	r.restartedPlan()
	r.endedPlan()
	if far.Draws() != 0.5 || !r.isOn() {
		t.Error("the outputs are not as the plan left them")
	}
	r.clock.SetSpeed(4)
	r.planned(capture.Regimen{For: 3600, Cycles: 1, On: 10, Off: 5, Output: sim.Supply, Steps: []float64{23}, Each: 600})
	r.soakIs("its first step", func(s capture.RegimenState) bool { return s.Step == 1 })
	r.fault("short +5 V", "0.2ohm")
	s := r.soakIs("an alarm stopped it", func(s capture.RegimenState) bool { return s.State == capture.PlanStopped })
	if !strings.HasPrefix(s.Why, "an alarm came: ") {
		t.Errorf("%q", s.Why)
	}
	r.fault("clear")
	r.stop()
	r.switchedByPlan("off", "on", "off", "on")
}

// refusedPlans are those that nobody may start.
func (r *rig) refusedPlans() {
	r.t.Helper()
	for name, bad := range map[string]capture.Regimen{
		"nothing":             {},
		"too high":            {For: 60, Steps: []float64{40}, Each: 8, Output: sim.Supply},
		"no such output":      {For: 60, Cycles: 1, On: 10, Off: 5, Output: "nothing"},
		"a meter":             {For: 60, Cycles: 1, On: 10, Off: 5, Output: sim.DMM},
		"a load that is none": {For: 60, Loads: []float64{1}, Each: 5, Load: sim.DMM},
	} {
		if _, err := r.PlanSoak(r.t.Context(), "", dashboards.SoakRequest{Plan: &bad}); err == nil {
			r.t.Errorf("%s: it was taken", name)
		}
	}
	if _, err := r.PlanSoak(r.t.Context(), "", dashboards.SoakRequest{Permit: "guessed"}); err == nil {
		r.t.Error("a permit that nobody gave")
	}
}

// restartedPlan starts the daemon anew in the first cycle: the plan measures on and
// waits before it switches, until somebody lets it.
func (r *rig) restartedPlan() {
	r.t.Helper()
	r.stop()
	r.start()
	s := r.soakIs("it waits", func(s capture.RegimenState) bool { return s.State == capture.PlanWaits })
	if len(s.Parts) != 2 || !strings.Contains(strings.Join(s.Say, " "), "in 2 pieces of ") {
		r.t.Errorf("two pieces: %+v %q", s.Parts, s.Say)
	}
	r.soakIs("the step is over all the same", func(s capture.RegimenState) bool { return s.Cycles == 1 })
	r.pass(10 * time.Second)
	if !r.isOn() {
		r.t.Error("it switched after a restart, and nobody let it")
	}
	r.readBack()
	a, err := r.PlanSoak(r.t.Context(), "", dashboards.SoakRequest{Resume: true})
	r.must(err)
	_, err = r.PlanSoak(r.t.Context(), "", dashboards.SoakRequest{Resume: true, Permit: a.Permit.Code})
	r.must(err)
}

// endedPlan waits for the end of the plan, which ends the soak and says what came
// of it.
func (r *rig) endedPlan() {
	r.t.Helper()
	s := r.soakIs("all is done", func(s capture.RegimenState) bool {
		return s.State == capture.PlanDone || s.State == capture.PlanStopped
	})
	if s.State != capture.PlanDone || s.Cycles != 2 || s.Watched < 130*time.Second {
		r.t.Fatalf("%s %q, %d cycles, %s watched", s.State, s.Why, s.Cycles, s.Watched)
	}
	for _, step := range s.Steps {
		if step.State != capture.StepDone || !strings.HasPrefix(step.Verdict, capture.QuietStep) {
			r.t.Errorf("%+v", step)
		}
	}
	if last := s.Steps[len(s.Steps)-1]; !strings.Contains(last.Verdict, five+" ") && !strings.HasSuffix(last.Verdict, "too short for a mean over a minute") {
		r.t.Errorf("the levels: %q", last.Verdict)
	}
	var said string
	r.until("the soak is over", func(v live.Snapshot) bool {
		j, _ := v.Job(jobID)
		i := slices.IndexFunc(j.Entries, func(e capture.Entry) bool { return e.Act.Verb == capture.ActSoak && e.Act.Text == "stop" })
		if i >= 0 {
			said = j.Entries[i].Text
		}
		return i >= 0
	})
	if !strings.HasPrefix(said, "Soak ended by its plan: all 8 steps are done, ") || !strings.HasSuffix(said, " in 2 pieces, no alarm came.") {
		r.t.Errorf("%q", said)
	}
	d, err := r.Dossier(r.t.Context(), jobID)
	r.must(err)
	if d.Soak == nil || d.Soak.Pieces != 2 || len(d.Soak.Parts) != 2 || d.Soak.Failures != 0 || !strings.Contains(strings.Join(d.Soak.Say, "\n"), "of the plan (supply to 23.00 V") {
		r.t.Errorf("the dossier: %+v", d.Soak)
	}
}

// switchedByPlan holds what plans switched against what they should have.
func (r *rig) switchedByPlan(want ...string) {
	r.t.Helper()
	var by []string
	for _, rec := range r.read(jobID).acts(capture.ActOutput, sim.Supply) {
		if a := rec.Item.(capture.Act); a.By == capture.ByPlan && (a.Text == "on" || a.Text == "off") {
			by = append(by, a.Text)
		}
	}
	if !slices.Equal(by, want) {
		r.t.Errorf("the record: %q", by)
	}
}

// readBack waits until the supply's protection can be relied on again.
func (r *rig) readBack() {
	r.t.Helper()
	r.untilUp(sim.Supply, true)
	r.until("the protection was read back", func(live.Snapshot) bool {
		_, err := r.Permit(context.Background(), "", dashboards.PermitRequest{Kind: dashboards.PermitPower, Subject: sim.Supply})
		return err == nil
	})
}
