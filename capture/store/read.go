package store

import (
	"cmp"
	"context"
	"encoding/hex"
	"fmt"
	"slices"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
)

// Records calls yield for every committed record answered in [from, to), in
// order; from 0 means from the beginning, to 0 to the end as it is now. Alarm
// transitions are not among them: see [Job.Transitions]. Call [Job.Sync] first
// when what was consumed just now must be there. It holds no transaction while
// yield runs. It ends with the error of yield or of ctx.
func (j *Job) Records(ctx context.Context, from, to capture.Instant, yield func(capture.Record) error) error {
	return j.walk(ctx, from, to, func(r *row) error {
		if r.kind == kindTransition {
			return nil
		}
		rec, err := r.record(j.id)
		if err != nil {
			return err
		}
		return yield(rec)
	})
}

// walk visits the committed rows with instants in [from, to), from 0 and to 0
// being no bounds.
func (j *Job) walk(ctx context.Context, from, to capture.Instant, visit func(*row) error) error {
	w, err := j.walker(ctx, from)
	if err != nil {
		return j.wrap("read", err)
	}
	for n := 0; ; n++ {
		if n%1024 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		r, err := w.next(ctx)
		switch {
		case err != nil:
			return j.wrap("read", err)
		case r == nil || to != 0 && r.at >= to:
			return nil
		case from != 0 && r.at < from:
			continue
		}
		if err := visit(r); err != nil {
			return err
		}
	}
}

// walker begins with a commit that lies before an instant.
func (j *Job) walker(ctx context.Context, from capture.Instant) (*walker, error) {
	snap, err := j.r.now(ctx)
	if err != nil {
		return nil, err
	}
	var after seal
	if from != 0 {
		if after, _, err = j.r.commitAt(ctx, snap, from); err != nil {
			return nil, err
		}
	}
	return j.r.walkFrom(ctx, snap, after)
}

// Transitions returns every committed alarm transition of the job, in order.
func (j *Job) Transitions(ctx context.Context) ([]capture.Transition, error) {
	var out []capture.Transition
	err := each(ctx, j.r.db, "SELECT body FROM transition ORDER BY seq", nil, func(scan func(...any) error) error {
		var body string
		if err := scan(&body); err != nil {
			return err
		}
		t, err := decodeTransition(body)
		out = append(out, t)
		return err
	})
	return out, j.wrap("read the alarms", err)
}

// Last returns the newest committed reading of every channel and quantity,
// oldest first.
func (j *Job) Last(ctx context.Context) ([]capture.Record, error) {
	snap, err := j.r.now(ctx)
	if err != nil {
		return nil, j.wrap("read the last values", err)
	}
	type newest struct {
		*block.Row
		of channelKey
	}
	var rows []newest
	for _, id := range sorted(snap.channels) {
		last, err := j.r.last(ctx, id, snap.filling[id])
		if err != nil {
			return nil, j.wrap("read the last values", err)
		}
		if last == nil {
			continue
		}
		rows = append(rows, newest{last, snap.channels[id]})
	}
	slices.SortFunc(rows, func(a, b newest) int { return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Tie, b.Tie)) })
	out := make([]capture.Record, len(rows))
	for i, r := range rows {
		out[i] = capture.Record{At: r.At, Job: j.id, Item: r.Reading(r.of.name, r.of.quantity)}
	}
	return out, nil
}

// last returns the newest reading of a channel.
func (r *reader) last(ctx context.Context, id int64, f filling) (*block.Row, error) {
	rows := f.rows
	if len(rows) == 0 && f.blocks > 0 {
		data, err := r.block(ctx, blockNumber(id, f.blocks-1))
		if err != nil {
			return nil, err
		}
		var d block.Decoder
		if rows, err = d.Rows(nil, data); err != nil {
			return nil, err
		}
	}
	if len(rows) == 0 {
		return nil, nil
	}
	last := rows[len(rows)-1]
	return &last, nil
}

// Head returns the newest commit's place in the hash chain. An empty job has
// count 0 and the hash of 32 zero bytes before any commit.
func (j *Job) Head(ctx context.Context) (capture.Head, error) {
	snap, err := j.r.now(ctx)
	if err != nil {
		return capture.Head{}, j.wrap("read the chain's head", err)
	}
	return j.headOf(ctx, snap)
}

// headOf returns the head of a snapshot.
func (j *Job) headOf(ctx context.Context, snap *snapshot) (capture.Head, error) {
	head := capture.Head{Count: uint64(snap.newest.last), Hash: hex.EncodeToString(snap.head[:])}
	if snap.newest.last == 0 {
		return head, nil
	}
	before, _, err := j.r.commitAt(ctx, snap, snap.newest.upto)
	if err != nil {
		return head, j.wrap("read the chain's head", err)
	}
	w, err := j.r.walkFrom(ctx, snap, before)
	for err == nil {
		var r *row
		if r, err = w.next(ctx); r == nil {
			break
		}
		head.Last = r.at
	}
	return head, j.wrap("read the chain's head", err)
}

// Upto returns the instant up to which the committed record is complete: the
// last tick or record before the newest commit, or the last sign of life after
// it. It is 0 for a job without records.
func (j *Job) Upto(ctx context.Context) (capture.Instant, error) {
	s, _, err := newestSeal(ctx, j.r.db)
	if err != nil {
		return 0, j.wrap("read", err)
	}
	var alive capture.Instant
	err = j.r.db.QueryRowContext(ctx, "SELECT upto FROM alive").Scan(&alive)
	return max(s.upto, alive), j.wrap("read", err)
}

// wrap says which job an error is about. Errors of the caller's context pass.
func (j *Job) wrap(doing string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s job %s: %w", doing, j.id, err)
}
