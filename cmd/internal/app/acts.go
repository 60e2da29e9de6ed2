package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/dashboards"
)

// Act carries out and records what a person does.
func (a *App) Act(ctx context.Context, id string, act capture.Act) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil && act.Verb == capture.ActOutput && act.Text == "off" {
		return a.offAnyway(ctx, act, err)
	}
	if err != nil {
		return dashboards.Result{}, err
	}
	if err := a.mayAct(act); err != nil {
		return dashboards.Result{}, err
	}
	if err := a.makesSense(j, act); err != nil {
		return dashboards.Result{}, err
	}
	if err := turned(j, &act); err != nil {
		return dashboards.Result{}, err
	}
	if act.By == "" {
		act.By = j.book.Sheet().Technician
	}
	if err := j.book.Check(act); err != nil {
		return dashboards.Result{}, problem(string(act.Verb), err)
	}
	if act.Verb == capture.ActSoak && act.Text == "start" {
		if err := maySoak(j); err != nil {
			return dashboards.Result{}, err
		}
	}
	var ended []string
	switch act.Verb {
	case capture.ActClose:
		return a.close(ctx, j, act)
	case capture.ActStage:
		if ended, err = a.endInjections(ctx, j, "enter "+string(act.Stage)); err != nil {
			return dashboards.Result{}, err
		}
	case capture.ActHeard, capture.ActReset:
		return a.answer(j, act)
	case capture.ActMute:
		if err := a.mayMute(j, act); err != nil {
			return dashboards.Result{}, err
		}
	case capture.ActMark, capture.ActTrimmer:
		if err := a.setting(j, &act); err != nil {
			return dashboards.Result{}, err
		}
	case capture.ActTap:
		return a.tap(ctx, j, act)
	case capture.ActTake:
		return a.take(ctx, j, act)
	case capture.ActOutput, capture.ActInput, capture.ActLimits:
		if err := a.maySource(j, act); err != nil {
			return dashboards.Result{}, err
		}
		return a.carryOut(ctx, j, act)
	}
	beside := cautionsOf(j, act)
	act = j.withRails(act)
	at, err := a.bus.Post(j.id, act)
	if err != nil {
		return dashboards.Result{}, problem(string(act.Verb), err)
	}
	say := job.Entry(act) + endedFirst(ended) + beside
	if act.Verb == capture.ActSoak && act.Text == "start" {
		say += a.soakNotes(j, time.Duration(act.Value*float64(time.Second)))
	}
	return dashboards.Result{Job: j.id, At: at, Say: say + a.kept(ctx, j, act)}, nil
}

// carryOut has an instrument do something and records what it confirmed.
func (a *App) carryOut(ctx context.Context, j *openJob, act capture.Act) (dashboards.Result, error) {
	off := act.Verb == capture.ActLimits && a.isOff(ctx, act.Subject)
	say, err := a.onInstrument(ctx, j, act)
	if err != nil {
		return dashboards.Result{}, a.mayBeOn(ctx, j, act, err)
	}
	if act.Verb == capture.ActLimits {
		act.Text = capture.Confirmed(act.Text, say)
	}
	if off && a.isOff(ctx, act.Subject) { // before and after
		act.Text = capture.WhileOff(act.Text)
	}
	at, err := a.postDone(j, act)
	if err != nil {
		return dashboards.Result{}, problem(string(act.Verb), err)
	}
	switch {
	case act.Verb == capture.ActOutput && act.Text == "off":
		a.injections.over(act.Subject)
	case act.Verb == capture.ActLimits:
		say += a.doubtElsewhere(j, act)
	}
	return dashboards.Result{Job: j.id, At: at, Say: say}, nil
}

// maySoak refuses a soak that nobody would watch: rules about time are armed in
// a stage under power, on clipped probes.
func maySoak(j *openJob) error {
	if stage, _ := j.book.Stage(); stage != capture.Soak {
		return &dashboards.Error{
			Kind: dashboards.Refused, Detail: fmt.Sprintf("start a soak: the job is in %s, and a soak is counted in the stage soak only", stage),
			Hint: `enter the soak first: steadyrail job stage soak, with --why when stages are skipped`,
		}
	}
	places := j.book.Placements()
	for _, ch := range places.Channels() {
		if p, _, _ := places.Now(ch); p.Rail != "" && p.Hold == capture.Clipped {
			return nil
		}
	}
	return &dashboards.Error{
		Kind: dashboards.Refused, Detail: "start a soak: no probe is clipped to a rail, and only clipped probes are watched",
		Hint: `clip one: steadyrail place dmm/volts "+5 V logic" --clipped`,
	}
}

// onInstrument has an instrument do something before it is recorded: the
// record says what was confirmed, not what was asked.
//
// An output that is about to go off is announced first, unless the instrument
// may not switch it: what falls between the command and its confirmation is no
// collapse.
func (a *App) onInstrument(ctx context.Context, j *openJob, act capture.Act) (string, error) {
	loop := a.loopOf[act.Instrument()]
	if loop == nil {
		return "", a.noInstrument(string(act.Verb), act.Instrument())
	}
	off := act.Verb == capture.ActOutput && act.Text == "off"
	announces := off && slices.Contains(a.info(act.Instrument()).Acts, string(act.Verb))
	if announces {
		announced := act
		announced.Text = capture.SwitchingOff
		if _, err := a.postOutput(j, announced); err != nil {
			return "", problem("output of "+act.Subject, err)
		}
	}
	asked := time.Now()
	say, err := loop.Do(ctx, act.Instrument(), act)
	if err != nil {
		what := fmt.Sprintf("%s of %s", act.Verb, act.Subject)
		if announces {
			err = errors.Join(err, a.takeBack(j, act))
		}
		return "", problem(what, err)
	}
	delay := time.Since(asked)
	if off {
		a.metrics.SwitchedOff(delay)
	}
	return fmt.Sprintf("%s, confirmed after %.1f ms.", strings.TrimSuffix(say, "."), delay.Seconds()*1000), nil
}

// takeBack takes an announcement back: nothing confirmed that the output is
// off, so the rules watch again.
func (a *App) takeBack(j *openJob, act capture.Act) error {
	act.Text = capture.NotConfirmed
	_, err := a.postOutput(j, act)
	return err
}
