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

// A plan sets the input, switches power off and on as a person agreed to, survives
// a restart without switching anything, and goes on when somebody lets it.
func TestAPlanOfASoak(t *testing.T) {
	t.Parallel()
	r := newRig(t, 4, patientRails)
	r.soak()
	plan := capture.Regimen{For: 60, Steps: []float64{23}, Each: 8, Cycles: 2, On: 15, Off: 6, Output: sim.Supply}
	for name, bad := range map[string]capture.Regimen{
		"nothing":             {},
		"too high":            {For: 60, Steps: []float64{40}, Each: 8, Output: sim.Supply},
		"no such output":      {For: 60, Cycles: 1, On: 10, Off: 5, Output: "nothing"},
		"a meter":             {For: 60, Cycles: 1, On: 10, Off: 5, Output: sim.DMM},
		"a load that is none": {For: 60, Loads: []float64{1}, Each: 5, Load: sim.DMM},
	} {
		if _, err := r.PlanSoak(t.Context(), "", dashboards.SoakRequest{Plan: &bad}); err == nil {
			t.Errorf("%s: it was taken", name)
		}
	}
	if _, err := r.PlanSoak(t.Context(), "", dashboards.SoakRequest{Permit: "guessed"}); err == nil {
		t.Error("a permit that nobody gave")
	}
	if a := r.planned(plan); !strings.Contains(a.Say, "Its plan: ") {
		t.Errorf("%q", a.Say)
	}
	r.soakIs("the first cycle is off", func(s capture.RegimenState) bool { return s.Step > 0 && s.Steps[s.Step-1].Kind == capture.StepOff })
	if r.isOn() {
		t.Error("it is said to be off, and is on")
	}
	r.soakIs("the first cycle is on again", func(s capture.RegimenState) bool { return s.Step > 0 && s.Steps[s.Step-1].Kind == capture.StepOn })
	if !r.isOn() {
		t.Error("it is said to be on, and is off")
	}
	r.stop()
	r.start()
	s := r.soakIs("it waits", func(s capture.RegimenState) bool { return s.State == capture.PlanWaits })
	if len(s.Parts) != 2 || !strings.Contains(strings.Join(s.Say, " "), "in 2 pieces of ") {
		t.Errorf("two pieces: %+v %q", s.Parts, s.Say)
	}
	r.soakIs("the step is over all the same", func(s capture.RegimenState) bool { return s.Cycles == 1 })
	r.pass(5 * time.Second)
	if !r.isOn() {
		t.Error("it switched after a restart, and nobody let it")
	}
	r.readBack()
	a, err := r.PlanSoak(t.Context(), "", dashboards.SoakRequest{Resume: true})
	r.must(err)
	_, err = r.PlanSoak(t.Context(), "", dashboards.SoakRequest{Resume: true, Permit: a.Permit.Code})
	r.must(err)
	s = r.soakIs("all is done", func(s capture.RegimenState) bool {
		return s.State == capture.PlanDone || s.State == capture.PlanStopped
	})
	if s.State != capture.PlanDone || s.Cycles != 2 || s.Watched < time.Minute {
		t.Errorf("%s %q, %d cycles, %s watched", s.State, s.Why, s.Cycles, s.Watched)
	}
	for _, step := range s.Steps {
		if step.State != capture.StepDone || step.Verdict != "no alarm in it" {
			t.Errorf("%+v", step)
		}
	}
	d, err := r.Dossier(t.Context(), jobID)
	r.must(err)
	if d.Soak == nil || d.Soak.Pieces != 2 || len(d.Soak.Parts) != 2 || d.Soak.Failures != 0 {
		t.Errorf("the dossier: %+v", d.Soak)
	}
	r.stop()
	var by []string
	for _, rec := range r.read(jobID).acts(capture.ActOutput, sim.Supply) {
		if a := rec.Item.(capture.Act); a.By == capture.ByPlan && (a.Text == "on" || a.Text == "off") {
			by = append(by, a.Text)
		}
	}
	if want := []string{"off", "on", "off", "on"}; !slices.Equal(by, want) {
		t.Errorf("the record: %q", by)
	}
}

// An alarm ends a plan: nothing is switched after it.
func TestAnAlarmStopsAPlan(t *testing.T) {
	t.Parallel()
	r := newRig(t, 4)
	r.soak()
	r.planned(capture.Regimen{For: 3600, Cycles: 1, On: 10, Off: 5, Output: sim.Supply, Steps: []float64{23}, Each: 600})
	r.soakIs("its first step", func(s capture.RegimenState) bool { return s.Step == 1 })
	r.fault("short +5 V", "0.2ohm")
	s := r.soakIs("it stopped", func(s capture.RegimenState) bool { return s.State == capture.PlanStopped })
	if !strings.HasPrefix(s.Why, "an alarm came: ") {
		t.Errorf("%q", s.Why)
	}
	r.fault("clear")
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
