package rules

import (
	"context"
	"errors"

	"steadyrail/capture"
)

// Records hands out a job's stored records in order until yield returns an
// error, which it passes on.
type Records func(yield func(capture.Record) error) error

// errEnough ends a walk over records early.
var errEnough = errors.New("enough")

// Replay judges a stored job again with a new engine and returns the alarms'
// transitions. Ticks are made anew between the records and after the last one
// up to upto; with upto zero it ends at the last record. For the records and
// ticks that a live engine saw, it returns what that one said.
func Replay(ctx context.Context, records Records, upto capture.Instant) ([]capture.Transition, error) {
	_, out, err := Resume(ctx, "", records, upto)
	return out, err
}

// Resume replays a stored job and returns the engine in the state that this
// leaves it in, to go on with live records, beside the transitions.
func Resume(ctx context.Context, version string, records Records, upto capture.Instant) (*Engine, []capture.Transition, error) {
	e := New(version)
	var out []capture.Transition
	take := func(rec capture.Record) {
		out = append(out, e.Consume(rec).Transitions...)
	}
	f := feeder{take: take}
	err := records(func(rec capture.Record) error {
		if upto != 0 && rec.At > upto {
			return errEnough
		}
		return f.feed(ctx, rec)
	})
	if err != nil && !errors.Is(err, errEnough) {
		return nil, nil, err
	}
	if err := f.ticks(ctx, upto); err != nil {
		return nil, nil, err
	}
	return e, out, nil
}

// feeder puts the ticks between records.
type feeder struct {
	take   func(capture.Record)
	job    string
	last   capture.Instant // 0: nothing yet
	closed bool
}

func (f *feeder) feed(ctx context.Context, rec capture.Record) error {
	upto := rec.At
	if gap, ok := rec.Item.(capture.Gap); ok && !gap.Ticked && gap.From != 0 && gap.From < upto {
		// Nobody was there to hear the silence of the gap.
		upto = gap.From
	}
	if err := f.ticks(ctx, upto); err != nil {
		return err
	}
	f.job, f.last = rec.Job, rec.At
	f.take(rec)
	if act, ok := rec.Item.(capture.Act); ok && (act.Verb == capture.ActClose || act.Verb == capture.ActOpen) {
		f.closed = act.Verb == capture.ActClose
	}
	return nil
}

// ticks hands out the points of the grid after the last record up to upto. A
// job has none before its first record and none while it is closed.
func (f *feeder) ticks(ctx context.Context, upto capture.Instant) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if f.last == 0 || f.closed {
		return nil
	}
	n, err := 0, error(nil)
	capture.Ticks(f.last, upto, func(at capture.Instant) bool {
		f.take(capture.Record{At: at, Job: f.job, Item: capture.Tick{}})
		f.last = at
		if n++; n%4096 == 0 {
			err = ctx.Err()
		}
		return err == nil
	})
	return err
}
