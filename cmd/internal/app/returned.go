package app

import (
	"context"
	"fmt"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/rules"
)

// SameSerial reports whether two serial numbers mean the same set: capitals,
// spaces and dashes aside. An empty one means none.
func SameSerial(a, b string) bool { return a != "" && bare(a) != "" && bare(a) == bare(b) }

func bare(serial string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' || r == '\u2011' || r == '\u00a0' {
			return -1
		}
		return r
	}, strings.ToUpper(serial))
}

// before returns the job in which a set was here last, closed and opened before
// an instant.
func before(list []store.Summary, sheet capture.Sheet, opened capture.Instant) (store.Summary, bool) {
	for _, s := range list { // opened last first
		if s.Job != sheet.Job && s.Closed != 0 && (opened == 0 || s.Closed <= opened) && SameSerial(s.SerialNumber, sheet.SerialNumber) {
			return s, true
		}
	}
	return store.Summary{}, false
}

// wasHere says that a set was here before; "" when it was not.
func (a *App) wasHere(ctx context.Context, sheet capture.Sheet) string {
	list, err := a.workspace.Jobs(ctx)
	if err != nil {
		return ""
	}
	s, ok := before(list, sheet, 0)
	if !ok {
		return ""
	}
	return fmt.Sprintf(" This set was here before, as %s, until %s: steadyrail job returned %s compares.", s.Job, s.Closed.Time().Local().Format(time.DateOnly), sheet.Job)
}

// Returned compares a job with the one before of the same serial number.
func (a *App) Returned(ctx context.Context, id string) (out *capture.Return, err error) {
	list, err := a.workspace.Jobs(ctx)
	if err != nil {
		return nil, problem("list jobs", err)
	}
	if j, err := a.job(id); err == nil { // without folding its record
		s, ok := before(list, j.book.Sheet(), j.book.Opened())
		if !ok {
			return nil, nil
		}
		return a.comparison(ctx, j, s)
	}
	err = a.read(ctx, id, func(f *store.Job, b *job.Book) error {
		if s, ok := before(list, b.Sheet(), b.Opened()); ok {
			out, err = Compare(ctx, s, f, b)
		}
		return err
	})
	return out, err
}

// comparison works it out of an open job, and again when it has measured more in
// the stages that count.
func (a *App) comparison(ctx context.Context, j *openJob, s store.Summary) (*capture.Return, error) {
	if err := j.file.Sync(ctx); err != nil {
		return nil, problem("read job "+j.id, err)
	}
	upto := firstPart(j.book.Stages())
	goesOn := upto == 0
	if goesOn {
		upto = a.clock.Now()
	}
	end, err := a.returns.alone(ctx, j.id)
	if err != nil {
		return nil, err
	}
	defer end()
	known, left, isLeft := a.returns.known(j.id, s.Job)
	if known.out != nil && known.out.Job == s.Job && (known.at == upto || goesOn && upto.Sub(known.at) < comparedAgain) {
		return known.out, nil
	}
	if !isLeft {
		if left, err = dossierOf(ctx, s); err != nil {
			return nil, err
		}
	}
	back, err := rules.BuildDossier(ctx, until{j.file, upto}, rules.Told{})
	if err != nil {
		return nil, err
	}
	out := rules.Returned(left, back)
	out.Left = s.Closed
	a.returns.keep(j.id, s.Job, capture.Dossier{Sheet: left.Sheet, Rails: left.Rails, To: left.To}, compared{upto, &out})
	if _, err := a.job(j.id); err != nil { // closed meanwhile
		a.returns.forget(j.id)
	}
	return &out, nil
}

// comparedAgain is how old a comparison of a job that goes on may be.
const comparedAgain = 10 * time.Second

// Before finds the job before of the same serial number in a workspace and
// compares; nil: there is none. For the command line when no daemon runs.
func Before(ctx context.Context, w *store.Workspace, f *store.Job, b *job.Book) (*capture.Return, error) {
	list, err := w.Jobs(ctx)
	if err != nil {
		return nil, err
	}
	s, ok := before(list, b.Sheet(), b.Opened())
	if !ok {
		return nil, nil
	}
	return Compare(ctx, s, f, b)
}

// Compare works out how a set left the job before and how it came into this one.
func Compare(ctx context.Context, s store.Summary, f *store.Job, b *job.Book) (*capture.Return, error) {
	left, err := dossierOf(ctx, s)
	if err != nil {
		return nil, err
	}
	back, err := rules.BuildDossier(ctx, until{f, firstPart(b.Stages())}, rules.Told{})
	if err != nil {
		return nil, err
	}
	out := rules.Returned(left, back)
	out.Left = s.Closed
	return &out, nil
}

func dossierOf(ctx context.Context, s store.Summary) (d capture.Dossier, err error) {
	err = ReadFile(ctx, s.Path, func(f *store.Job, b *job.Book) error {
		d, err = rules.BuildDossier(ctx, f, rules.Told{Stages: b.Stages()})
		return err
	})
	if err != nil {
		err = fmt.Errorf("read how the set left job %s: %w", s.Job, err)
	}
	return d, err
}

// firstPart is the end of what says how a set came: the first live checks. A soak
// of days behind it need not be read. 0: they are not over.
func firstPart(stages []capture.StageSpan) capture.Instant {
	live := false
	for _, s := range stages {
		if live && s.Stage != capture.LiveChecks {
			return s.From
		}
		live = live || s.Stage == capture.LiveChecks || s.Stage.Live()
	}
	return 0
}

// until is a record up to an instant; 0: all of it.
type until struct {
	*store.Job
	upto capture.Instant
}

// Records ends where it was told to.
func (u until) Records(ctx context.Context, from, to capture.Instant, yield func(capture.Record) error) error {
	if to == 0 {
		to = u.upto
	}
	return u.Job.Records(ctx, from, to, yield)
}
