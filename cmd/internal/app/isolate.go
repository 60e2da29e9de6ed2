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
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/rules/diagnose"
)

// isolating answers the dashboards' questions about faults.
type isolating struct{ app *App }

// Isolator answers and files what is asked about the faults of jobs.
func (a *App) Isolator() dashboards.Isolator { return isolating{a} }

// Search says where the fault of a job is, open or closed.
func (i isolating) Search(ctx context.Context, id string) (capture.FaultSearch, error) {
	if j, err := i.app.job(id); err == nil {
		return search(&j.trail)
	} else if id == "" {
		return capture.FaultSearch{}, err
	}
	var out capture.FaultSearch
	err := i.app.read(ctx, id, func(f *store.Job, _ *job.Book) (err error) {
		out, err = SearchFile(ctx, f, nil)
		return err
	})
	return out, err
}

// SearchFile says where the fault of a stored job is, by the given sheet, or by
// the job's own when it is nil.
func SearchFile(ctx context.Context, f *store.Job, b *diagnose.Board) (capture.FaultSearch, error) {
	trail := new(diagnose.Trail)
	err := f.Records(ctx, 0, 0, func(rec capture.Record) error {
		trail.Consume(rec)
		return nil
	})
	if err != nil {
		return capture.FaultSearch{}, fmt.Errorf("isolate in job %s: %w", f.ID(), err)
	}
	if b != nil {
		return trail.Search(b)
	}
	return search(trail)
}

func search(t *diagnose.Trail) (capture.FaultSearch, error) {
	b, err := sheetOf(t)
	if err != nil {
		return capture.FaultSearch{}, err
	}
	f, err := t.Search(b)
	if err != nil {
		err = &dashboards.Error{Kind: dashboards.Invalid, Detail: "isolate", Err: err}
	}
	return f, err
}

// sheetOf reads the sheet that the job was given; nil: none.
func sheetOf(t *diagnose.Trail) (*diagnose.Board, error) {
	text := t.Sheet()
	if text == "" {
		return nil, nil
	}
	return parseSheet([]byte(text))
}

func parseSheet(text []byte) (*diagnose.Board, error) {
	b, problems := configs.ParseBoard("sheet", text)
	if len(problems) == 0 {
		return b, nil
	}
	var lines strings.Builder
	configs.Explain(&lines, problems)
	return nil, &dashboards.Error{Kind: dashboards.Invalid, Detail: strings.TrimSpace(lines.String()), Hint: "configs/board.yaml is a complete sheet to copy"}
}

// File files what a person says or does about the fault of an open job.
func (i isolating) File(ctx context.Context, id string, ask dashboards.IsolateAsk) (dashboards.Result, error) {
	j, err := i.app.job(id)
	if err != nil {
		return dashboards.Result{}, err
	}
	b, err := sheetOf(&j.trail)
	if err != nil && ask.Sheet == "" && ask.Board == "" {
		return dashboards.Result{}, err
	}
	act, err := i.meant(ctx, j, b, ask)
	var reading *diagnose.RailReading
	switch {
	case errors.As(err, &reading):
		return i.app.Enter(ctx, j.id, dashboards.Typed{Rail: reading.Rail, Text: typedOpen(reading.Text), By: ask.By})
	case errors.Is(err, diagnose.ErrEntry):
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: "isolate: " + strings.TrimPrefix(err.Error(), diagnose.ErrEntry.Error()+": ")}
	case err != nil:
		return dashboards.Result{}, err
	}
	act.By = ask.By
	could := ""
	if act.Verb == capture.ActLift {
		if err := liftedEarly(j, act.Subject, ask.Sure); err != nil {
			return dashboards.Result{}, err
		}
		could = i.could(j, b, act.Subject)
	}
	res, err := i.app.Act(ctx, j.id, act)
	res.Say += could
	return res, err
}

// liftedEarly asks back when a part is said to be lifted before anything is isolated:
// in cold checks a rail is read as it came in, and a lift would spoil that unseen.
func liftedEarly(j *openJob, part string, sure bool) error {
	stage, _ := j.book.Stage()
	if sure || stage != "" && stage != capture.TakeIn && stage != capture.ColdChecks {
		return nil
	}
	if stage == "" {
		stage = "no stage yet"
	}
	return &dashboards.Error{
		Kind: dashboards.Conflict, Detail: "lift " + part, Err: fmt.Errorf("%w, and the job is in %s: nothing was filed", dashboards.ErrLiftedEarly, stage),
		Hint: "enter the stage first: steadyrail job stage isolate; when it is lifted all the same: steadyrail isolate add --yes lift " + part,
	}
}

// typedOpen writes an open circuit as a display does.
func typedOpen(text string) string {
	if text == "open" {
		return "OL ohm"
	}
	return text
}

func (i isolating) meant(ctx context.Context, j *openJob, b *diagnose.Board, ask dashboards.IsolateAsk) (capture.Act, error) {
	switch {
	case ask.Finding != "":
		return j.trail.Finding(b, ask.Finding)
	case ask.Anew != "":
		return capture.Act{Verb: capture.ActAnew, Text: ask.Anew}, nil
	case ask.Board != "":
		kept, err := i.Board(ctx, ask.Board)
		if err != nil {
			return capture.Act{}, err
		}
		return sheetAct(j, kept.Text)
	case ask.Sheet != "":
		return sheetAct(j, ask.Sheet)
	}
	return j.trail.Acts(b, ask.Entry)
}

// sheetAct refuses a sheet that is of another board: none of the job's rails is
// on it.
func sheetAct(j *openJob, text string) (capture.Act, error) {
	b, err := parseSheet([]byte(text))
	if err != nil {
		return capture.Act{}, err
	}
	rails := j.book.Sheet().Rails
	if !slices.ContainsFunc(rails, func(r capture.Rail) bool { _, on := b.Rail(r.Name); return on }) {
		return capture.Act{}, &dashboards.Error{Kind: dashboards.Conflict, Detail: fmt.Sprintf("the sheet of %s has none of the rails of job %s", b.Name, j.id), Hint: "rails are the same when their names are; open the job with the sheet: steadyrail job open JOB --board FILE.yaml"}
	}
	name := b.Name
	if name == "" {
		name = "without a name"
	}
	return capture.Act{Verb: capture.ActBoard, Subject: name, Text: text}, nil
}

// could says what the lift of a part can tell, before it is filed.
func (i isolating) could(j *openJob, b *diagnose.Board, part string) string {
	f, err := j.trail.Search(b)
	if err != nil {
		return ""
	}
	var out strings.Builder
	for _, l := range f.Limits {
		if b == nil || b.Touches(part, l.Rail) {
			out.WriteString(" " + l.Say)
		}
	}
	return out.String()
}
