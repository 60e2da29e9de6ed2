package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/live"
	"steadyrail/capture/store"
	"steadyrail/dashboards"
	"steadyrail/dashboards/export"
	"steadyrail/dashboards/report"
	"steadyrail/rules"
)

// Snapshot returns the bench as it is now.
func (a *App) Snapshot() live.Snapshot { return a.table.Snapshot() }

// Subscribe wakes whoever wants to know of changes.
func (a *App) Subscribe() (<-chan struct{}, func()) { return a.table.Subscribe() }

// Jobs lists every job of the workspace, newest first.
func (a *App) Jobs(ctx context.Context) ([]dashboards.JobSummary, error) {
	list, err := a.workspace.Jobs(ctx)
	if err != nil {
		return nil, problem("list jobs", err)
	}
	out := make([]dashboards.JobSummary, 0, len(list))
	for _, s := range list {
		line := dashboards.JobSummary{Job: s.Job, Set: s.Set, Board: s.Board, SerialNumber: s.SerialNumber, Symptom: s.Symptom, Opened: s.Opened, Closed: s.Closed}
		if j, err := a.job(s.Job); err == nil { // the index learns of an open job with its first commit
			sheet := j.book.Sheet()
			line.Set, line.Board, line.SerialNumber, line.Symptom, line.Opened = sheet.Set, sheet.Board, sheet.SerialNumber, sheet.Symptom, j.book.Opened()
			line.Stage, _ = j.book.Stage()
			line.Bytes = j.file.Stats().Bytes
		}
		out = append(out, line)
	}
	return out, nil
}

// read opens a job for reading, open or closed, with everything that was
// measured up to now, and calls f.
func (a *App) read(ctx context.Context, id string, f func(*store.Job, *job.Book) error) error {
	if j, err := a.job(id); err == nil {
		if err := j.file.Sync(ctx); err != nil {
			return problem("read job "+j.id, err)
		}
		return f(j.file, j.book)
	} else if id == "" {
		return err
	}
	path, err := a.workspace.Path(id)
	if err != nil {
		return problem("read job", err)
	}
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return &dashboards.Error{Kind: dashboards.NotFound, Detail: "there is no job " + id, Hint: jobListHint}
	}
	return ReadFile(ctx, path, f)
}

const jobListHint = "steadyrail job list shows all jobs"

// ReadFile opens a job's file by itself, folds it and calls f: for the command
// line when no daemon runs.
func ReadFile(ctx context.Context, path string, f func(*store.Job, *job.Book) error) error {
	file, err := store.OpenFile(path)
	if err != nil {
		return problem("read "+path, err)
	}
	book := new(job.Book)
	err = file.Records(ctx, 0, 0, func(rec capture.Record) error {
		book.Consume(rec)
		return nil
	})
	if err == nil {
		err = f(file, book)
	}
	return errors.Join(err, file.Close(ctx))
}

// Series returns what was read on a rail, reduced to buckets.
func (a *App) Series(ctx context.Context, id, rail string, q capture.Quantity, from, to capture.Instant, points int) (out []capture.Bucket, err error) {
	err = a.read(ctx, id, func(f *store.Job, b *job.Book) error {
		if _, ok := b.Sheet().Rail(rail); !ok {
			return &dashboards.Error{Kind: dashboards.NotFound, Detail: fmt.Sprintf("job %s has no rail %s", f.ID(), rail)}
		}
		if from == 0 {
			from = b.Opened()
		}
		if to == 0 {
			to = a.clock.Now()
		}
		out, err = f.Series(ctx, b.Placements().Spans(rail), q, from, to, points)
		return err
	})
	return out, err
}

// Transitions returns every step of every alarm of a job.
func (a *App) Transitions(ctx context.Context, id string) (out []capture.Transition, err error) {
	err = a.read(ctx, id, func(f *store.Job, _ *job.Book) error {
		out, err = f.Transitions(ctx)
		return err
	})
	return out, err
}

// ExportCSV writes every reading of a job.
func (a *App) ExportCSV(ctx context.Context, id string, mark capture.DecimalMark, w io.Writer) error {
	return a.read(ctx, id, func(f *store.Job, _ *job.Book) error {
		return Export(ctx, f, w, export.Options{Zone: time.Local, Mark: mark})
	})
}

// Report writes the report of a job.
func (a *App) Report(ctx context.Context, id string, w io.Writer) error {
	return a.read(ctx, id, func(f *store.Job, b *job.Book) error {
		before, err := a.Returned(ctx, f.ID())
		if err != nil {
			a.log.Warn().Err(err).Str("job", f.ID()).Msg("compare with how the set left before")
		}
		return Report(ctx, f, b, w, report.Options{Zone: time.Local, Decimal: a.o.Config.Decimal, Version: a.o.Version, Written: a.clock.Now(), File: filepath.Base(f.Path()), Return: before, Picture: a.pictures.of(ctx, f)})
	})
}

// Dossier computes everything that the record of a job says.
func (a *App) Dossier(ctx context.Context, id string) (d capture.Dossier, err error) {
	err = a.read(ctx, id, func(f *store.Job, b *job.Book) error {
		d, err = Dossier(ctx, f, b)
		return err
	})
	return d, err
}

// Report computes the dossier of a job from its record and prints it.
func Report(ctx context.Context, f *store.Job, b *job.Book, w io.Writer, o report.Options) error {
	d, err := Dossier(ctx, f, b)
	if err != nil {
		return fmt.Errorf("report of job %s: %w", f.ID(), err)
	}
	if o.Picture == nil {
		o.Picture = newPictures().of(ctx, f)
	}
	return report.HTML(w, d, o)
}

// Dossier computes everything that the record of a job says.
func Dossier(ctx context.Context, f *store.Job, b *job.Book) (capture.Dossier, error) {
	told := rules.Told{Stages: b.Stages(), Entries: b.Entries()}
	for _, s := range b.Soaks() {
		told.Soaks = append(told.Soaks, rules.SoakSpan(s))
	}
	d, err := rules.BuildDossier(ctx, f, told)
	if err != nil {
		return d, err
	}
	// A report that prints the chain's head must not print it over a record that
	// was changed: the chain is checked each time.
	var broken *store.BrokenError
	if _, err = f.Verify(ctx); errors.As(err, &broken) {
		d.Broken, err = broken.Error(), nil
	}
	return d, err
}

// Export writes every reading of a job as CSV.
func Export(ctx context.Context, f *store.Job, w io.Writer, o export.Options) error {
	records := func(yield func(capture.Record, error) bool) {
		err := f.Records(ctx, 0, 0, func(rec capture.Record) error {
			if !yield(rec, nil) {
				return errStop
			}
			return nil
		})
		if err != nil && !errors.Is(err, errStop) {
			yield(capture.Record{}, err)
		}
	}
	if err := export.WriteCSV(w, records, o); err != nil {
		return fmt.Errorf("export job %s: %w", f.ID(), err)
	}
	return nil
}

// errStop ends a walk over records early.
var errStop = errors.New("stop")

var _ rules.Source = (*store.Job)(nil)
