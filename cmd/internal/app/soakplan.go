package app

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// planSubject is what the permit of a plan is for.
const planSubject = "plan of the soak"

// planning is the sink that follows the plan of a job's soak.
type planning struct{ job *openJob }

// Consume takes the next record of the job.
func (s planning) Consume(rec capture.Record) {
	s.job.planMu.Lock()
	defer s.job.planMu.Unlock()
	s.job.plan.Consume(rec)
	s.job.step.Consume(rec)
	s.job.tally.Consume(rec)
}

// fell tells the levels of a step, and the count of failures, of an alarm.
func (j *openJob) fell(t capture.Transition) {
	j.planMu.Lock()
	defer j.planMu.Unlock()
	j.step.Fell(t)
	j.tally.Fell()
}

// PlanSoak starts a plan or lets one go on; see [dashboards.Soaker].
func (a *App) PlanSoak(ctx context.Context, id string, r dashboards.SoakRequest) (dashboards.SoakAnswer, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.SoakAnswer{}, err
	}
	if r.By == "" {
		r.By = j.book.Sheet().Technician
	}
	if r.Permit != "" {
		return a.planWith(ctx, j, r)
	}
	plan, err := a.mayPlan(j, r)
	if err != nil {
		return dashboards.SoakAnswer{}, err
	}
	if !plan.Switches() {
		return a.beginPlan(ctx, j, plan, r.By)
	}
	say, notes := plan.Say(), append([]string{"It stops at the first alarm and after every restart waits for a person before it switches again."}, capture.TripCaution[:]...)
	if r.Resume {
		say = "It goes on where it was: " + say
	}
	until := a.clock.Now().Add(time.Duration(float64(permitLasts) * a.o.Speed()))
	code := a.permits.give(permit{job: j.id, subject: planSubject, plan: &plan, resume: r.Resume, until: until}, a.clock.Now())
	return dashboards.SoakAnswer{Permit: &dashboards.Permit{Code: code, Say: say, Until: until, Notes: notes}}, nil
}

// planWith uses a permit: a person agreed, in words, to all that the plan
// switches.
func (a *App) planWith(ctx context.Context, j *openJob, r dashboards.SoakRequest) (dashboards.SoakAnswer, error) {
	p, ok := a.permits.use(r.Permit, j.id, planSubject, a.clock.Now())
	if !ok || p.plan == nil {
		return dashboards.SoakAnswer{}, &dashboards.Error{
			Kind: dashboards.Refused, Detail: "plan of the soak: there is no permit for it, or it was used, or two minutes are over",
			Hint: "ask anew and agree to it: steadyrail soak start --for 8h --cycles 10 ..., or steadyrail soak resume",
		}
	}
	plan, err := a.mayPlan(j, dashboards.SoakRequest{Plan: p.plan, Resume: p.resume})
	if err != nil {
		return dashboards.SoakAnswer{}, err
	}
	if plan.Text() != p.plan.Text() || p.resume != r.Resume { // agreed to was another
		return dashboards.SoakAnswer{}, &dashboards.Error{
			Kind: dashboards.Refused, Detail: "plan of the soak: the permit is for another plan than the one that would switch",
			Hint: "ask anew, and read what it would switch",
		}
	}
	if !p.resume {
		return a.beginPlan(ctx, j, *p.plan, r.By)
	}
	at, err := a.bus.Post(j.id, capture.Act{Verb: capture.ActSoakStep, Text: capture.StepGoesOn, By: r.By})
	if err != nil {
		return dashboards.SoakAnswer{}, problem("let the plan go on", err)
	}
	j.letPlan(true)
	return dashboards.SoakAnswer{Result: dashboards.Result{Job: j.id, At: at, Say: "The plan goes on, and may switch."}}, nil
}

// beginPlan records the start of the soak and its plan.
func (a *App) beginPlan(ctx context.Context, j *openJob, plan capture.Regimen, by string) (dashboards.SoakAnswer, error) {
	res, err := a.Act(ctx, j.id, capture.Act{Verb: capture.ActSoak, Text: "start", Value: plan.For, By: by})
	if err != nil {
		return dashboards.SoakAnswer{}, err
	}
	at, err := a.bus.Post(j.id, capture.Act{Verb: capture.ActRegimen, Text: plan.Text(), By: by})
	if err != nil {
		return dashboards.SoakAnswer{}, problem("plan the soak", err)
	}
	j.letPlan(true)
	return dashboards.SoakAnswer{Result: dashboards.Result{Job: j.id, At: at, Say: res.Say + " Its plan: " + plan.Say()}}, nil
}

func (j *openJob) letPlan(may bool) {
	j.planMu.Lock()
	defer j.planMu.Unlock()
	j.planMay = may
}

// mayPlan says everything that speaks against a plan, and returns it complete.
func (a *App) mayPlan(j *openJob, r dashboards.SoakRequest) (capture.Regimen, error) {
	refuse := func(kind dashboards.Kind, detail, hint string) (capture.Regimen, error) {
		return capture.Regimen{}, &dashboards.Error{Kind: kind, Detail: "plan of the soak: " + detail, Hint: hint}
	}
	plan := capture.Regimen{}
	switch {
	case r.Resume:
		state := j.planState(a.clock.Now())
		if state.State != capture.PlanWaits {
			return refuse(dashboards.Conflict, "no plan waits for anybody", "see how far it is: steadyrail soak show")
		}
		plan = state.Plan
	case r.Plan == nil:
		return refuse(dashboards.Invalid, "there is none in the request", `{"plan": {"for": 28800}}`)
	default:
		plan = *r.Plan
		if err := j.book.Check(capture.Act{Verb: capture.ActSoak, Text: "start", Value: plan.For}); err != nil {
			return plan, problem("plan of the soak", err)
		}
		if err := maySoak(j); err != nil {
			return plan, err
		}
	}
	if len(plan.Steps) > 0 && plan.Back == 0 {
		plan.Back = setBefore(j, plan.Output)
	}
	if err := plan.Check(); err != nil {
		return refuse(dashboards.Invalid, err.Error(), "")
	}
	if len(plan.Steps) > 0 && plan.Back == 0 {
		return refuse(dashboards.Invalid, "nobody set the volts of "+plan.Output+" in this job, so it could not go back to them", "say them: --back 24V")
	}
	return plan, a.maySwitchPlan(j, plan)
}

// maySwitchPlan holds what the plan switches against what is asked of a person.
func (a *App) maySwitchPlan(j *openJob, plan capture.Regimen) error {
	if plan.Output != "" && plan.Cycles+len(plan.Steps) > 0 {
		if err := a.maySwitch(plan.Output); err != nil {
			return err
		}
		if err := a.mayPower(j, plan.Output); err != nil {
			return err
		}
		if most, err := strconv.ParseFloat(j.protection(plan.Output).Voltage, 64); err == nil {
			for _, v := range plan.Steps {
				if v >= most {
					return &dashboards.Error{Kind: dashboards.Refused, Detail: fmt.Sprintf("plan of the soak: a step to %g V is not below the over-voltage protection of %g V", v, most), Hint: "plan lower steps, or set the protection anew: steadyrail limits"}
				}
			}
		}
	}
	if len(plan.Loads) == 0 {
		return nil
	}
	in := (capture.Act{Subject: plan.Load}).Instrument()
	if a.loopOf[in] == nil || !slices.Contains(a.info(in).Acts, string(capture.ActLimits)) {
		return &dashboards.Error{Kind: dashboards.NotAllowed, Detail: fmt.Sprintf("plan of the soak: %s may not be set, or is no instrument here", plan.Load), Hint: "add limits to the acts of the load in the configuration"}
	}
	return nil
}

// setBefore is what volts an output was set to last in the job; 0: never.
func setBefore(j *openJob, output string) float64 {
	list := j.book.Entries()
	for _, e := range slices.Backward(list) {
		if e.Act.Verb != capture.ActLimits || !e.Act.Concerns(output) {
			continue
		}
		for _, part := range strings.Split(e.Act.Text, ",") {
			if volts, ok := strings.CutPrefix(strings.TrimSpace(part), "volts "); ok {
				if v, err := strconv.ParseFloat(strings.TrimSpace(volts), 64); err == nil {
					return v
				}
			}
		}
	}
	return 0
}

// planState is how far the plan is; one that nobody let switch since the program
// began waits.
func (j *openJob) planState(now capture.Instant) capture.RegimenState {
	j.planMu.Lock()
	defer j.planMu.Unlock()
	s := j.plan.State(now)
	if s.State == capture.PlanRuns && s.Plan.Switches() && !j.planMay {
		s.State = capture.PlanWaits
		s.Why = "the program was started anew, and switches nothing again before a person lets it: steadyrail soak resume"
	}
	s.Job = j.id
	return s
}
