package app

import (
	"context"
	"errors"
	"fmt"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/capture/poll"
)

// stepTries is how often a step is tried that sets an amount or switches off: a
// garbled answer in the middle of a night is no reason to end a soak. What
// switches on is tried once, for a person agreed to that and to no second try.
const stepTries = 8

// planTick lets one job's plan begin or end a step when it is due, and reports
// whether one ended: the next may begin at once.
func (a *App) planTick(ctx context.Context, j *openJob) bool {
	now := a.clock.Now()
	s := j.planState(now)
	if s.State == "" || s.State == capture.PlanStopped {
		return false
	}
	view, _ := a.Snapshot().Job(j.id)
	if s.State == capture.PlanDone {
		a.endPlanned(j, s, view)
		return false
	}
	if why := alarmed(view, s); why != "" && s.Plan.Switches() {
		a.stopPlan(j, max(1, s.Step), "an alarm came: "+why)
		return false
	}
	j.planMu.Lock()
	begin, end, waits := j.plan.Due(now, s.Step > 0 && s.Steps[s.Step-1].Kind == capture.StepWarm && j.settled(now))
	step, _ := j.plan.Step(max(begin, end))
	levels := j.step.Say()
	j.planMu.Unlock()
	switch {
	case end > 0:
		a.postStep(j, end, step, capture.StepDone+": "+verdictOfStep(view, s.Steps[end-1], levels))
	case begin > 0 && step.Switches() && (waits || s.State == capture.PlanWaits):
	case begin > 0:
		err := a.switchStep(ctx, j, s.Plan, step)
		if ctx.Err() != nil && neverSent(err) {
			return false // its owner was ended meanwhile: the step is still to come, and the plan not over
		}
		if j.planTried++; err != nil && step.Kind != capture.StepOn && j.planTried < stepTries {
			return false // at the next look: a wire that was in doubt is well again by then
		}
		j.planTried = 0
		if err != nil {
			a.stopPlan(j, begin, err.Error())
			return false
		}
		a.postStep(j, begin, step, capture.StepBegun)
	}
	return end > 0
}

// neverSent reports whether an error says that an instrument was asked for nothing.
// After any other it may have done what it was asked for, and that is told.
func neverSent(err error) bool {
	return errors.Is(err, poll.ErrWithdrawn) || errors.Is(err, poll.ErrStopped)
}

// alarmed names an alarm that came since the plan began and is there, or was told
// to nobody yet. What is only to be noticed stops nothing.
func alarmed(view live.JobView, s capture.RegimenState) string {
	for _, t := range view.Alarms {
		if t.Raised >= s.From && t.Severity > capture.Notice {
			return t.Say
		}
	}
	return ""
}

// verdictOfStep says what came in a step: alarms, and the levels of the rails.
func verdictOfStep(view live.JobView, t capture.RegimenTold, levels string) string {
	out := capture.QuietStep
	if n := alarmsSince(view, t.From); n > 0 {
		out = counted(n, "alarm", "alarms") + " in it"
	}
	if levels != "" {
		out += "; " + levels
	}
	return out
}

// settled reports whether the rails that are watched have settled.
func (j *openJob) settled(now capture.Instant) bool {
	j.trimMu.Lock()
	defer j.trimMu.Unlock()
	return j.trim.Settled(now)
}

func (a *App) postStep(j *openJob, number int, step capture.RegimenStep, text string) {
	a.post(j, capture.Act{Verb: capture.ActSoakStep, Subject: step.Say, Value: float64(number), Text: text, By: capture.ByPlan})
}

// stopPlan ends a plan: what is switched stays as it is, and nothing is switched
// any more.
func (a *App) stopPlan(j *openJob, number int, why string) {
	j.letPlan(false)
	a.post(j, capture.Act{Verb: capture.ActSoakStep, Value: float64(number), Text: capture.StepStopped + ": " + why, By: capture.ByPlan})
}

// switchStep does what begins a step. All that is asked of a person who switches
// an output on is asked anew each time.
func (a *App) switchStep(ctx context.Context, j *openJob, plan capture.Regimen, step capture.RegimenStep) error {
	act := capture.Act{Verb: capture.ActOutput, Subject: plan.Output, By: capture.ByPlan}
	switch step.Kind {
	case capture.StepWarm, capture.StepSoak:
		return nil
	case capture.StepOff:
		act.Text = "off"
	case capture.StepInput:
		act.Verb, act.Text = capture.ActLimits, fmt.Sprintf("volts %g", step.At)
	case capture.StepLoad:
		act.Verb, act.Subject, act.Text = capture.ActLimits, plan.Load, fmt.Sprintf("amperes %g", step.At)
	case capture.StepOn:
		act.Text = "on"
		if err := a.mayPlanOn(ctx, j, act); err != nil {
			return err
		}
	}
	if err := a.notInjecting(act.Subject, "the plan of the soak"); err != nil {
		return err
	}
	_, err := a.carryOut(ctx, j, act)
	return err
}

// mayPlanOn checks and reads back what [App.SwitchOn] does.
func (a *App) mayPlanOn(ctx context.Context, j *openJob, on capture.Act) error {
	if err := a.maySource(j, on); err != nil {
		return err
	}
	if err := a.injections.settle(ctx, on.Subject); err != nil {
		return err
	}
	if err := a.mayPower(j, on.Subject); err != nil {
		return err
	}
	act := capture.Act{Verb: capture.ActReadBack, Subject: on.Subject, Text: j.protection(on.Subject).Text()}
	if _, err := a.loopOf[act.Instrument()].Do(ctx, act.Instrument(), act); err != nil {
		return problem("switch "+on.Subject+" on: its protection does not read back as it was programmed", err)
	}
	return nil
}
