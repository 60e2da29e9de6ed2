package store

import (
	"bytes"
	"context"
	"fmt"

	"steadyrail/capture"
)

// named compares the job's name, which stands outside the log, with the one that
// the log gives it.
func (v *verifier) named(s seal, r *row) error {
	sheet, err := into[capture.Sheet](r.name, r.body)
	if err != nil {
		return v.failed(s, err)
	}
	if sheet.Job != "" && sheet.Job != v.job {
		return v.broken(s, "record %d says that this is job %s, the file says %s", r.seq, sheet.Job, v.job)
	}
	return nil
}

// rest looks for what no commit covers.
func (v *verifier) rest(ctx context.Context) error {
	for _, c := range v.walk.cursors {
		p, err := c.peek(ctx)
		if err != nil {
			return v.failed(v.last, err)
		}
		if p != nil {
			return v.broken(v.last, "%s has readings that no commit covers", c.key.name)
		}
	}
	for kind, query := range map[int]string{kindItem: "SELECT count(*) FROM item WHERE seq <= ?", kindTransition: "SELECT count(*) FROM transition WHERE seq <= ?"} {
		var n int64
		if err := v.r.db.QueryRowContext(ctx, query, v.snap.newest.last).Scan(&n); err != nil {
			return v.failed(v.last, err)
		}
		if n != v.counted[kind] {
			return v.broken(v.last, "the file has %d records of kind %d where its commits cover %d", n, kind, v.counted[kind])
		}
	}
	return nil
}

// summaries compares those of the blocks with the blocks.
func (v *verifier) summaries(ctx context.Context) error {
	for _, id := range sorted(v.snap.channels) {
		base := int64(0)
		for k := range v.snap.filling[id].blocks {
			if err := v.summary(ctx, blockNumber(id, k), &base); err != nil {
				return err
			}
		}
	}
	return nil
}

func (v *verifier) summary(ctx context.Context, id int64, base *int64) error {
	var got brief
	err := v.r.db.QueryRowContext(ctx, "SELECT id, base, n, first_at, last_at, data FROM brief WHERE id = ?", id).
		Scan(&got.id, &got.base, &got.n, &got.first, &got.last, &got.data)
	if err != nil {
		return v.failed(v.last, fmt.Errorf("the summary of block %d: %w", id, err))
	}
	data, err := v.r.block(ctx, id)
	if err == nil {
		v.points, err = v.decoder.Points(v.points[:0], data)
	}
	if err != nil {
		return v.failed(v.last, err)
	}
	want := newBrief(id, *base, v.points)
	*base += int64(want.n)
	if got.base != want.base || got.n != want.n || got.first != want.first || got.last != want.last || !bytes.Equal(got.data, want.data) {
		_, s, err := v.r.commitAt(ctx, v.snap, want.last)
		if err != nil {
			return v.failed(v.last, err)
		}
		return &BrokenError{Job: v.job, Commit: s.n, From: want.first, To: want.last, Why: "the summary of these readings does not match them"}
	}
	return nil
}
