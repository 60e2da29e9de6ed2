package app

import (
	"context"
	"time"

	"steadyrail/capture"
)

// endInjection switches off when the minute is over, when somebody ended it, or
// when the program ends; never before the attempt to switch on is over.
func (a *App) endInjection(ctx context.Context, run *injectionRun, tried <-chan struct{}, j *openJob) {
	why := lasting(ctx, run.ended, a.clock, injectFor)
	<-tried
	a.injections.finish(run, a.switchInjectionOff(ctx, j, run, why))
}

// lasting waits for the end and says which it was.
func lasting(ctx, ended context.Context, clock capture.Clock, d time.Duration) string {
	over, stop := clock.After(d)
	defer stop()
	select {
	case <-over:
		return "its time is over"
	case <-ended.Done():
		return "ended before its time"
	case <-ctx.Done():
		return "the program ends"
	}
}

// switchInjectionOff insists on off, also where somebody has done it already:
// once more costs nothing. The record has then said so, and is told no more unless
// it does not hold. An off from before the injection is none of it: what was tried
// since may be on, though nothing confirmed it. Nobody switches on meanwhile, see
// [injecting.settle]. What nothing confirms is the urgent alarm of the rule that
// watches over it, see [App.watchInjection].
func (a *App) switchInjectionOff(ctx context.Context, j *openJob, run *injectionRun, why string) error {
	subject := run.output
	act := capture.Act{Verb: capture.ActOutput, Subject: subject, Text: capture.SwitchingOff, By: capture.ByInject}
	said := j.wentOffSince(run)
	if !said {
		a.mark(j, act)
	}
	act.Text = "off"
	err := a.insistOff(ctx, act)
	if err != nil {
		act.Text = capture.NotConfirmed
		a.log.Error().Err(err).Str("output", subject).Msg("the end of the injection is not confirmed")
	}
	if !said || err != nil {
		a.mark(j, act)
	}
	a.post(j, capture.Act{Verb: capture.ActInject, Subject: subject, Text: why, By: capture.ByInject})
	return err
}

// wentOffSince reports whether the job's record says of an output that it was switched
// off last, and read back so, since its injection was begun.
func (j *openJob) wentOffSince(run *injectionRun) bool {
	j.guardMu.Lock()
	defer j.guardMu.Unlock()
	turn, _ := j.outputs.Turn(run.output)
	return turn > run.turn && j.outputs.WentOff(run.output)
}

func (j *openJob) turnOf(output string) int {
	j.guardMu.Lock()
	defer j.guardMu.Unlock()
	turn, _ := j.outputs.Turn(output)
	return turn
}
