package store

import (
	"context"
	"database/sql"
	"fmt"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
)

// notRunning is the reason of the gap that opening marks.
const notRunning = "not running"

// resume finds the end of the log and marks the time since then as a gap,
// unless the job was closed: a stopped daemon leaves an open job unwatched
// whether or not it was stopped in order.
func (j *Job) resume(ctx context.Context, now capture.Instant) error {
	pos, err := j.r.position(ctx)
	if err != nil {
		return err
	}
	j.w.pos, j.w.opened, j.w.queue.upto = pos, pos.newest.n, pos.upto
	if err := j.w.leaveOldRule(ctx); err != nil {
		return err
	}
	shut, err := j.r.shut(ctx)
	if err != nil || shut || pos.seq == 0 {
		return err
	}
	gap := capture.Gap{From: pos.upto, To: now, Reason: notRunning}
	at := now
	if now <= pos.upto {
		at, gap.To = pos.upto+1, pos.upto+1
		gap.Reason = "not running, for how long cannot be told: the clock was set back"
	}
	j.gap = &capture.Record{At: at, Job: j.id, Item: gap}
	j.w.queue.add(entry{at: at, item: gap})
	return nil
}

// complete checks that the file has as many records as its commits cover, and
// that the summaries count the blocks' readings: by these the writer knows which
// readings are in blocks, and lets go of them elsewhere. It reads the beginning of
// each block, which stands in the tree, not the rest.
func (r *reader) complete(ctx context.Context, snap *snapshot) error {
	have := int64(0)
	for _, id := range sorted(snap.channels) {
		f := snap.filling[id]
		var base int64
		const query = "SELECT brief.base, brief.n, substr(block.data, 1, 8) FROM block LEFT JOIN brief USING (id) WHERE id >= ? AND id < ? ORDER BY id"
		err := each(ctx, r.db, query, []any{blockNumber(id, 0), blockNumber(id+1, 0)}, func(scan func(...any) error) error {
			var at sql.NullInt64
			var told sql.NullInt64
			var head []byte
			if err := scan(&at, &told, &head); err != nil {
				return err
			}
			n, err := block.Count(head)
			if err == nil && (at.Int64 != base || told.Int64 != int64(n)) {
				err = fmt.Errorf("%w: a block of %s has the readings %d to %d, its summary says %d to %d", ErrBroken,
					snap.channels[id].name, base+1, base+int64(n), at.Int64+1, at.Int64+told.Int64)
			}
			base += int64(n)
			return err
		})
		if err == nil && base != f.base {
			err = fmt.Errorf("%w: the blocks of %s have %d readings, their summaries %d", ErrBroken, snap.channels[id].name, base, f.base)
		}
		if err != nil {
			return fmt.Errorf("%w: %s", err, readOnly)
		}
		have += base + int64(len(f.rows))
	}
	var others int64
	if err := r.db.QueryRowContext(ctx, "SELECT (SELECT count(*) FROM item) + (SELECT count(*) FROM transition)").Scan(&others); err != nil {
		return err
	}
	if have += others; have != snap.newest.last {
		return fmt.Errorf("%w: it has %d records, its commits cover %d: %s", ErrBroken, have, snap.newest.last, readOnly)
	}
	return nil
}

const readOnly = "it is not written any more; verify the file to learn where, and go on in a new job"

// chain computes the chain's value at the newest commit, from where the last
// row of table fold left it.
func (r *reader) chain(ctx context.Context, snap *snapshot) (c chain, err error) {
	c.head = snap.foldHead
	if snap.folded.n > 0 {
		if err := c.tree.UnmarshalBinary(snap.foldTree); err != nil {
			return c, err
		}
	}
	w, err := r.walkFrom(ctx, snap, snap.folded)
	if err != nil {
		return c, err
	}
	b := binder{chain: c}
	for _, s := range snap.tail {
		b.begin(s.rule)
		for range s.last - s.first + 1 {
			it, err := w.next(ctx)
			if err != nil {
				return c, err
			}
			if it == nil {
				return c, fmt.Errorf("%w: commit %d covers records that are not there: %s", ErrBroken, s.n, readOnly)
			}
			it.canonical(&b.buf)
			b.wrote()
		}
		b.bind()
	}
	return chain{head: snap.head, tree: b.chain.tree}, nil
}

// leaveOldRule ends the tail of a file of an older format, so that all commits
// of the tail, and of a row of table fold, are of one rule.
func (w *writer) leaveOldRule(ctx context.Context) error {
	if w.pos.rule == ruleRuns {
		return nil
	}
	return w.change(func(b *batchWriter) error {
		rule := b.pos.rule
		b.pos.rule = ruleRuns
		return b.fold(rule)
	})
}

// shut reports whether the job was closed and not opened again.
func (r *reader) shut(ctx context.Context) (bool, error) {
	var verb string
	err := each(ctx, r.db, "SELECT json_extract(body, '$.verb') FROM item WHERE kind = 'act' AND json_extract(body, '$.verb') IN ('open', 'close') ORDER BY seq DESC LIMIT 1", nil,
		func(scan func(...any) error) error { return scan(&verb) })
	return capture.Verb(verb) == capture.ActClose, err
}

// summary reads what the bench index keeps of the file.
func (j *Job) summary(ctx context.Context) (Summary, error) {
	s := Summary{Job: j.id, Path: j.path}
	err := each(ctx, j.r.db, "SELECT body FROM item WHERE kind = 'sheet' ORDER BY seq DESC LIMIT 1", nil, func(scan func(...any) error) error {
		var body string
		if err := scan(&body); err != nil {
			return err
		}
		sheet, err := into[capture.Sheet]("sheet", body)
		s.sheet(sheet)
		return err
	})
	if err != nil {
		return s, err
	}
	err = each(ctx, j.r.db, "SELECT at, json_extract(body, '$.verb') FROM item WHERE kind = 'act' AND json_extract(body, '$.verb') IN ('open', 'close') ORDER BY seq", nil,
		func(scan func(...any) error) error {
			var at capture.Instant
			var verb capture.Verb
			err := scan(&at, &verb)
			s.act(at, verb)
			return err
		})
	return s, err
}
