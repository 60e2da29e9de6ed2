package store

import (
	"context"
	"encoding/hex"
	"fmt"
	"slices"

	"steadyrail/capture"
)

// Records calls yield for every committed record answered in [from, to), in
// order; from 0 means from the beginning, to 0 to the end as it is now. Alarm
// transitions are not among them: see [Job.Transitions]. Call [Job.Sync] first
// when what was consumed just now must be there. It reads in slices and holds
// no transaction while yield runs. It ends with the error of yield or of ctx.
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

// walk visits the committed rows with instants in [from, to).
func (j *Job) walk(ctx context.Context, from, to capture.Instant, visit func(*row) error) error {
	newest, _, err := j.r.lastSeal(ctx)
	if err != nil {
		return j.wrap("read", err)
	}
	first := int64(1)
	if from != 0 {
		if first, err = j.r.firstAt(ctx, from, newest); err != nil {
			return j.wrap("read", err)
		}
	}
	for ; first <= newest.last; first += sliceWidth {
		rows, err := j.r.rows(ctx, first, min(first+sliceWidth-1, newest.last))
		if err != nil {
			return j.wrap("read", err)
		}
		for i := range rows {
			r := &rows[i]
			if from != 0 && r.at < from {
				continue
			}
			if to != 0 && r.at >= to {
				return nil
			}
			if err := visit(r); err != nil {
				return err
			}
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	return nil
}

// Transitions returns every committed alarm transition of the job, in order.
func (j *Job) Transitions(ctx context.Context) ([]capture.Transition, error) {
	var out []capture.Transition
	err := j.r.each(ctx, "SELECT body FROM transition ORDER BY seq", nil, func(scan func(...any) error) error {
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
	newest, err := j.newest(ctx)
	if err != nil {
		return nil, j.wrap("read the last values", err)
	}
	var out []capture.Record
	for _, seq := range newest {
		rows, err := j.r.rows(ctx, seq, seq)
		if err != nil || len(rows) != 1 {
			return nil, j.wrap("read the last values", fmt.Errorf("record %d: %d rows, %w", seq, len(rows), err))
		}
		rec, err := rows[0].record(j.id)
		if err != nil {
			return nil, err
		}
		out = append(out, rec)
	}
	return out, nil
}

// newest returns the numbers of the newest readings, one for each channel:
// from the newest cell, and from the rows since.
func (j *Job) newest(ctx context.Context) ([]int64, error) {
	last, _, err := j.r.lastSeal(ctx)
	if err != nil {
		return nil, err
	}
	by := map[int64]int64{}
	take := func(scan func(...any) error) error {
		var channel, seq int64
		err := scan(&channel, &seq)
		by[channel] = max(by[channel], seq)
		return err
	}
	const cells = "SELECT id, coalesce((SELECT last_seq FROM cell WHERE channel = id ORDER BY start DESC LIMIT 1), 0) FROM channel"
	if err := j.r.each(ctx, cells, nil, take); err != nil {
		return nil, err
	}
	first, err := j.r.firstAt(ctx, floorTo(last.upto, cellWidth), last)
	if err != nil {
		return nil, err
	}
	if err := j.r.each(ctx, "SELECT channel, max(seq) FROM reading WHERE seq BETWEEN ? AND ? GROUP BY channel", []any{first, last.last}, take); err != nil {
		return nil, err
	}
	var out []int64
	for _, seq := range by {
		if seq > 0 {
			out = append(out, seq)
		}
	}
	slices.Sort(out)
	return out, nil
}

// Head returns the newest commit's place in the hash chain. An empty job has
// count 0 and the hash of 32 zero bytes before any commit.
func (j *Job) Head(ctx context.Context) (capture.Head, error) {
	s, h, err := j.r.lastSeal(ctx)
	if err != nil {
		return capture.Head{}, j.wrap("read the chain's head", err)
	}
	return j.headOf(ctx, s, h)
}

// Known finds the commit whose hash is the given one, in lower-case
// hexadecimal, and returns the head as it then was, and whether there is such a
// commit. After [Job.Verify] it means: what the report with this head rests on
// is unchanged, whatever was added since.
func (j *Job) Known(ctx context.Context, sum string) (capture.Head, bool, error) {
	want, err := hex.DecodeString(sum)
	if err != nil || len(want) != len(hash{}) {
		return capture.Head{}, false, fmt.Errorf("find the head %q: a head has %d hexadecimal digits", sum, 2*len(hash{}))
	}
	var n int64
	err = j.r.db.QueryRowContext(ctx, "SELECT coalesce((SELECT n FROM sealed WHERE hash = ?), 0)", want).Scan(&n)
	if err != nil || n == 0 {
		return capture.Head{}, false, j.wrap("find a head in", err)
	}
	var head capture.Head
	err = j.r.seals(ctx, n, n, func(s seal, h hash) (err error) { head, err = j.headOf(ctx, s, h); return err })
	return head, err == nil, j.wrap("find a head in", err)
}

func (j *Job) headOf(ctx context.Context, s seal, h hash) (capture.Head, error) {
	head := capture.Head{Count: uint64(s.last), Hash: hex.EncodeToString(h[:])}
	if s.last == 0 {
		return head, nil
	}
	rows, err := j.r.rows(ctx, s.last, s.last)
	if err != nil {
		return head, j.wrap("read the chain's head", err)
	}
	if len(rows) == 1 {
		head.Last = rows[0].at
	}
	return head, nil
}

// Upto returns the instant up to which the committed record is complete: the
// last tick or record before the newest commit, or the last sign of life after
// it. It is 0 for a job without records.
func (j *Job) Upto(ctx context.Context) (capture.Instant, error) {
	s, _, err := j.r.lastSeal(ctx)
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
