package app

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"

	"steadyrail/capture/live"
)

func (a *App) startJobs(ctx context.Context) (func(context.Context) error, error) {
	a.bus.Attach("", a.table)
	if a.o.Watch != nil {
		a.bus.Attach("", a.o.Watch)
	}
	for _, name := range a.order {
		a.table.SetInstrument(live.InstrumentView{Info: a.info(name), Problem: "not connected yet"})
	}
	list, err := a.workspace.Jobs(ctx)
	if err != nil {
		return nil, err
	}
	for i := len(list) - 1; i >= 0; i-- { // oldest first, so that the newest is in hand
		if list[i].Closed != 0 {
			continue
		}
		if err := a.resume(ctx, list[i].Job); err != nil {
			a.skip(list[i].Job, err)
		}
	}
	if err := a.openStandingJob(ctx); err != nil {
		return nil, errors.Join(err, a.stopJobs(ctx))
	}
	return a.stopJobs, nil
}

// skip leaves a job out that cannot be continued. The bench is needed for the
// others, but nobody may think that this one is watched: the log, the screens
// and /readyz say so until the daemon is started anew.
func (a *App) skip(id string, err error) {
	a.log.Error().Err(err).Str("job", id).Msg("this job cannot be continued and is not watched")
	a.mu.Lock()
	defer a.mu.Unlock()
	a.damaged[id] = err
	a.table.Forget(id)
	a.table.Notice(fmt.Sprintf("Job %s cannot be continued and is not watched: %v. Look at its file: steadyrail verify %s", id, err, id))
}

// damage tells which jobs are left out; nil: none is.
func (a *App) damage() error {
	a.mu.Lock()
	defer a.mu.Unlock()
	var errs []error
	for _, id := range slices.Sorted(maps.Keys(a.damaged)) {
		errs = append(errs, fmt.Errorf("job %s cannot be continued and is not watched: %w; look at its file: steadyrail verify %s", id, a.damaged[id], id))
	}
	return errors.Join(errs...)
}

// stopJobs lets go of every open job's file. The jobs stay open in the record:
// the next start continues them and marks the time between as a gap.
func (a *App) stopJobs(ctx context.Context) error {
	a.mu.Lock()
	list := make([]*openJob, 0, len(a.jobs))
	for _, id := range a.hand {
		list = append(list, a.jobs[id])
	}
	a.jobs, a.hand = map[string]*openJob{}, nil
	a.mu.Unlock()
	var errs []error
	for _, j := range list {
		j.detach()
		errs = append(errs, j.file.Close(ctx))
	}
	return errors.Join(errs...)
}
