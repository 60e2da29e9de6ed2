package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/dashboards"
)

// eraseClosed takes a picture or sound out of the file of a job that is closed: its
// record gets one more act, chained to those before, and then the content goes. The
// job stays closed, and a head that was printed before is in it as ever.
func (a *App) eraseClosed(ctx context.Context, id, hash, why string) (dashboards.Result, error) {
	const what = "erase a picture or sound"
	act, err := a.mayEraseClosed(ctx, id, hash, why)
	if told := (*dashboards.Error)(nil); errors.As(err, &told) {
		return dashboards.Result{}, &dashboards.Error{Kind: told.Kind, Detail: what + ": " + told.Detail, Err: told.Err, Hint: told.Hint}
	}
	if err != nil {
		return dashboards.Result{}, problem(what, err)
	}
	var at capture.Instant
	err = a.pictures.alone(ctx, func() error {
		at, err = a.eraseIn(ctx, id, act)
		return err
	})
	if err != nil {
		return dashboards.Result{}, problem(what, err)
	}
	return dashboards.Result{Job: id, At: at, Say: job.Entry(act) + outOfReach + a.olderCopies(id)}, nil
}

// outOfReach is what no erasure reaches.
const outOfReach = " Backups, reports and what the disk still holds of it are out of reach."

// mayEraseClosed says what speaks against it, and returns the act.
func (a *App) mayEraseClosed(ctx context.Context, id, hash, why string) (act capture.Act, err error) {
	list, err := a.workspace.Jobs(ctx)
	if err != nil {
		return act, err
	}
	i := slices.IndexFunc(list, func(s store.Summary) bool { return s.Job == id })
	switch {
	case i < 0:
		return act, &dashboards.Error{Kind: dashboards.NotFound, Detail: "there is no job " + id, Hint: jobListHint}
	case list[i].Closed == 0:
		return act, &dashboards.Error{Kind: dashboards.Conflict, Detail: "job " + id + " is open, and could not be continued", Hint: "look at its file: steadyrail verify " + id}
	}
	err = ReadFile(ctx, list[i].Path, func(f *store.Job, b *job.Book) error {
		act = capture.Act{Verb: capture.ActErase, Subject: hash, Text: why, By: b.Sheet().Technician}
		if err := b.Check(act); err != nil {
			return err
		}
		if _, err := f.Enclosure(ctx, hash); err != nil {
			return &dashboards.Error{Kind: dashboards.NotFound, Detail: "job " + id, Err: err}
		}
		return nil
	})
	return act, err
}

// eraseIn writes the act behind the record's end and takes the content out, though
// who asked went away.
func (a *App) eraseIn(ctx context.Context, id string, act capture.Act) (at capture.Instant, err error) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
	defer cancel()
	f, err := a.workspace.Open(id, a.clock.Now())
	if err != nil {
		return 0, err
	}
	upto, err := f.Upto(ctx)
	if err == nil {
		at = max(a.clock.Now(), upto+1)
		f.Consume(capture.Record{At: at, Job: id, Item: act})
		err = f.Sync(ctx)
	}
	if err == nil {
		a.pictures.forget(act.Subject)
		err = f.Unenclose(ctx, act.Subject)
	}
	return at, errors.Join(err, f.Close(ctx))
}

// olderCopies names the copies in older formats, which still hold it.
func (a *App) olderCopies(id string) string {
	path, err := a.workspace.Path(id)
	if err != nil {
		return ""
	}
	if names, err := store.OldCopies(path); err == nil && len(names) > 0 {
		return fmt.Sprintf(" So are the copies in older formats beside the file: %s.", strings.Join(names, ", "))
	}
	return ""
}
