package app

import (
	"context"
	"errors"
	"slices"

	"steadyrail/capture"
	"steadyrail/dashboards"
	"steadyrail/drivers"
)

// mayHaveTripped names what a supply that refuses to be switched on has: it says of
// it no more than a number by itself. Where its model has no phrases to ask, it is
// what such a supply most often has.
func (a *App) mayHaveTripped(ctx context.Context, output string, err error) error {
	var e *dashboards.Error
	if !errors.As(err, &e) || e.Hint != "" || !errors.Is(err, drivers.ErrRefused) {
		return err
	}
	with := *e
	with.Hint = "its own protection may have tripped: find out why, clear it at the supply, then switch it on again"
	if said, errAsk := a.askOutput(ctx, output); errAsk == nil && capture.FoundOff(said) {
		with.Detail += ": its " + capture.TrippedIn(said) + " protection has tripped"
		with.Hint = capture.TrippedAdvice
	}
	return &with
}

// askOutput asks how an output is, and nothing more.
func (a *App) askOutput(ctx context.Context, output string) (string, error) {
	act := capture.Act{Verb: capture.ActReadBack, Subject: output}
	return a.loopOf[act.Instrument()].Do(ctx, act.Instrument(), act)
}

// isOff reports whether an output says that it is off; one that does not answer, or
// is none, is not known to be.
func (a *App) isOff(ctx context.Context, output string) bool {
	in := (capture.Act{Subject: output}).Instrument()
	if a.loopOf[in] == nil || !a.hasOutput(in) {
		return false
	}
	said, err := a.askOutput(ctx, output)
	return err == nil && capture.ReadsOff(said)
}

// mayBeOn records of an output that was to go on and was not confirmed, and does not
// say that it is off, that it may be on: what was found cold counts no more then. It
// returns the error.
func (a *App) mayBeOn(ctx context.Context, j *openJob, act capture.Act, err error) error {
	if act.Verb != capture.ActOutput || act.Text != "on" || errors.Is(err, drivers.ErrNotAllowed) || a.isOff(ctx, act.Subject) {
		return err
	}
	if back := a.takeBack(j, act); back != nil {
		return errors.Join(err, back)
	}
	return err
}

// lookAtOutput asks an output that looks off whether it is, and records that it was
// found off, with the protection that the supply names. Nothing is switched: the
// permits of the output are taken back, for the person who looked did not see this.
// Whoever commands it meanwhile wins: what was asked before the command proves
// nothing. The rule that tells of it is in force before that is looked at for the
// last time, and sees by itself a command that comes later still.
func (a *App) lookAtOutput(ctx context.Context, j *openJob, output string) {
	act := capture.Act{Verb: capture.ActReadBack, Subject: output, By: capture.ByTrip}
	said, err := "", error(nil)
	turn, _ := j.turn(output)
	if a.loopOf[act.Instrument()] == nil {
		return
	}
	if p := j.protection(output); p.Programmed() {
		held := act
		held.Text = p.Text()
		said, err = a.loopOf[act.Instrument()].Do(ctx, act.Instrument(), held)
	}
	if said == "" || err != nil { // its limits may be others by now: it is asked for its output alone
		said, err = a.askOutput(ctx, output)
	}
	if err != nil || !capture.ReadsOff(said) || !j.onSince(output, turn) {
		return // the lost link is told by itself; or somebody switched it meanwhile
	}
	if act.Text = said; !capture.FoundOff(said) {
		act.Text = capture.WithTripped(said, capture.TrippedNotTold)
	}
	if err := a.watchFoundOff(j, output); err != nil {
		a.log.Warn().Err(err).Str("job", j.id).Str("output", output).Msg("watch an output that was found off")
	}
	if !j.onSince(output, turn) {
		return
	}
	a.permits.void(output)
	a.post(j, act)
}

// turn counts the commands to switch an output in the job's record, and reports
// whether it is on by them.
func (j *openJob) turn(output string) (turn int, on bool) {
	j.guardMu.Lock()
	defer j.guardMu.Unlock()
	return j.outputs.Turn(output)
}

// onSince reports whether an output is on by the job's record and nobody commanded it
// since a turn.
func (j *openJob) onSince(output string, turn int) bool {
	now, on := j.turn(output)
	return on && now == turn
}

// watchFoundOff puts the rule in force that tells of an output which was found off.
// An output names no rail; its alarm stands on the first of the sheet.
func (a *App) watchFoundOff(j *openJob, output string) error {
	set := j.book.Rules()
	if slices.ContainsFunc(set.Rules, func(r capture.Rule) bool { return r.Kind == "found off" && r.Against == output }) {
		return nil
	}
	rule := capture.Rule{Name: "found off " + output, Kind: "found off", Rail: j.book.Sheet().Rails[0].Name, Severity: capture.Urgent, Against: output, Implied: true}
	set.Rules = append(slices.Clone(set.Rules), rule)
	_, err := a.bus.Post(j.id, set)
	return err
}
