package app

import (
	"context"
	"errors"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/bus"
	"steadyrail/capture/job"
	"steadyrail/rules"
)

// resume continues a job that was open when the daemon ended.
func (a *App) resume(ctx context.Context, id string) error {
	file, err := a.workspace.Open(id, a.clock.Now())
	if err != nil {
		return err
	}
	j := &openJob{id: id, file: file, book: new(job.Book)}
	past, err := a.refold(ctx, j)
	if err == nil {
		a.catchUp(id, past.After)
		err = a.bus.Seed(id, past)
	}
	if err != nil {
		return errors.Join(err, file.Close(ctx))
	}
	a.attach(j)
	a.log.Info().Str("job", id).Msg("continued")
	return nil
}

// catchUp puts a clock that stands before the end of a job's record ahead: rules
// would stand still until it came there by itself.
func (a *App) catchUp(id string, end capture.Instant) {
	clock, ok := a.clock.(interface {
		Advance(capture.Instant) time.Duration
	})
	if !ok {
		return
	}
	if by := clock.Advance(end); by > clockParts {
		a.log.Warn().Str("job", id).Str("behind", by.Round(time.Second).String()).Msg("the computer's clock stands before the record's end: the record goes on from there; set the clock and start again")
	}
}

// refold brings the folds of a stored job, its engine and the live table to
// where they were when the daemon ended.
func (a *App) refold(ctx context.Context, j *openJob) (bus.Past, error) {
	past := bus.Past{Ordinals: map[capture.ChannelID]uint64{}}
	records := func(yield func(capture.Record) error) error { return j.file.Records(ctx, 0, 0, yield) }
	engine, transitions, err := rules.Resume(ctx, "", func(yield func(capture.Record) error) error {
		return records(func(rec capture.Record) error {
			j.book.Consume(rec)
			j.guard.Consume(rec)
			j.works.Consume(rec)
			j.outputs.Consume(rec)
			j.trim.Consume(rec)
			j.trail.Consume(rec)
			j.plan.Consume(rec)
			j.step.Consume(rec)
			j.tally.Consume(rec)
			j.discharge.Consume(rec)
			past.After = rec.At
			if r, ok := rec.Item.(capture.Reading); ok {
				past.Ordinals[r.Channel] = r.Ordinal
			} else {
				a.table.Consume(rec)
				past.Records = append(past.Records, rec)
			}
			return yield(rec)
		})
	}, 0)
	if err != nil {
		return past, err
	}
	for _, t := range transitions {
		j.step.Fell(t)
	}
	j.engine = engine
	j.keepCold(engine)
	j.keepSaid(engine.Verdicts())
	for _, t := range transitions {
		a.table.SetTransition(j.id, t)
	}
	a.table.SetVerdicts(j.id, engine.Verdicts())
	a.table.SetDerived(j.id, engine.Figures())
	return past, nil
}
