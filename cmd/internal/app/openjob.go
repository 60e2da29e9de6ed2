package app

import (
	"context"
	"errors"
	"fmt"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/dashboards"
	"steadyrail/rules"
)

// openStandingJob opens the job that the configuration names, when it is not
// there yet.
func (a *App) openStandingJob(ctx context.Context) error {
	c := a.o.Config.Job
	if c == nil {
		return nil
	}
	if _, err := a.job(c.Name); err == nil {
		return nil
	}
	_, err := a.OpenJob(ctx, capture.Sheet{Job: c.Name, Rails: c.Rails, Set: c.Set, Board: c.Board})
	return err
}

// OpenJob opens a job: makes its file, records what is known, and takes every
// channel that serves no other job into it, on no rail yet. What can be checked
// is checked before: a file would keep the name of a job that never was.
func (a *App) OpenJob(ctx context.Context, sheet capture.Sheet) (dashboards.Result, error) {
	sheet.Bench = a.o.Config.Bench
	sheet.Simulated = a.o.Simulated
	a.changing.RLock()
	defer a.changing.RUnlock()
	roster := a.roster()
	set := ruleSet(a.config(), sheet, roster)
	if err := checkBoard(sheet, set); err != nil {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: "open job " + sheet.Job, Err: err}
	}
	file, err := a.workspace.Create(sheet)
	if err != nil {
		return dashboards.Result{}, problem("open job "+sheet.Job, err)
	}
	j := &openJob{id: sheet.Job, file: file, book: new(job.Book), engine: rules.New("")}
	a.attach(j)
	ats, err := a.bus.PostAll(j.id, job.OpenItems(sheet, roster, set, a.freeChannels(), sheet.Technician)...)
	if err != nil {
		a.drop(j)
		return dashboards.Result{}, problem("open job "+sheet.Job, err)
	}
	a.tellLosses(j)
	a.settle(ctx, j)
	return dashboards.Result{Job: j.id, At: ats[0], Say: fmt.Sprintf("Job %s is open with %s.", j.id, counted(len(sheet.Rails), "rail", "rails")) + a.openBeside(j.id) + a.wasHere(ctx, sheet) + cautionsIn(j, capture.TakeIn, nil)}, nil
}

// tellLosses tells a job that opens which instruments are away: it was not there
// when their links were lost, and an alarm of it could name neither who answers
// instead nor who was meant.
func (a *App) tellLosses(j *openJob) {
	for _, loop := range a.loops {
		if err := loop.TellLosses(j.id); err != nil {
			a.log.Error().Err(err).Str("job", j.id).Str("link", loop.Link()).Msg("record which instruments are away")
		}
	}
}

// settle has the sheet on the disk before anyone is told that the job is open:
// after a kill within the first second a file without one would be left, whose
// job has no rails and whose name is taken. A disk that cannot be written is
// the store's to tell; the job goes on in memory.
func (a *App) settle(ctx context.Context, j *openJob) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
	defer cancel()
	if err := j.file.Sync(ctx); err != nil {
		a.log.Warn().Err(err).Str("job", j.id).Msg("the opening is not on the disk yet")
	}
}

// checkBoard finds rails that make no sense, two of one name, and rules that do
// not fit them.
func checkBoard(sheet capture.Sheet, set capture.RuleSet) error {
	seen := map[string]bool{}
	for _, r := range sheet.Rails {
		if err := r.Validate(); err != nil {
			return err
		}
		if seen[r.Name] {
			return fmt.Errorf("two rails are called %s: give one another name", r.Name)
		}
		seen[r.Name] = true
	}
	return errors.Join(rules.Check(sheet, set)...)
}

// drop gives up a job that could not be opened: its name is free again.
func (a *App) drop(j *openJob) {
	a.bus.Withdraw(j.id)
	a.table.Forget(j.id)
	err := a.letGo(j)
	if err == nil {
		err = a.workspace.Discard(j.id)
	}
	if err != nil {
		a.log.Error().Err(err).Str("job", j.id).Msg("give up a job that could not be opened")
	}
}
