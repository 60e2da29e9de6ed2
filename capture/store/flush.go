package store

import (
	"context"
	"database/sql"

	"steadyrail/capture"
)

// flush commits until nothing waits or an attempt fails. Between pieces of a
// long backlog it looks whether it must stop.
func (w *writer) flush() {
	for {
		entries, upto := w.queue.take(batchLimit)
		if len(entries) == 0 {
			w.queue.done(false)
			w.keepAlive(upto)
			return
		}
		err := w.commit(entries, upto)
		if err == nil {
			w.line.committed(entries)
		}
		w.queue.done(err == nil)
		w.report(err)
		if err != nil {
			return
		}
	}
}

// commit makes entries one commit and writes it.
func (w *writer) commit(entries []entry, upto capture.Instant) error {
	next := w.pos.clone()
	w.batch.begin(&next)
	if err := w.batch.compute(entries, upto); err != nil {
		return err
	}
	if err := w.write(w.batch.rows); err != nil {
		return err
	}
	next.upto = upto
	next.reuse(w.pos)
	w.pos, w.idle = next, 0
	return nil
}

// write carries out statements in one transaction, which is durable when it
// returns nil.
func (w *writer) write(rows []statement) (err error) {
	if w.begin != nil {
		if err := w.begin(); err != nil {
			return err
		}
	}
	ctx := context.Background() // a commit is not given up half way
	if err := w.prepare(ctx, rows); err != nil {
		return err
	}
	tx, err := w.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			tx.Rollback()
		}
	}()
	for _, s := range rows {
		if _, err := tx.StmtContext(ctx, w.stmts[s.query]).ExecContext(ctx, s.args...); err != nil {
			return err
		}
	}
	return tx.Commit()
}

// prepare prepares the statements that a commit needs: within a transaction the
// one connection is not to be had.
func (w *writer) prepare(ctx context.Context, rows []statement) error {
	if w.stmts == nil {
		w.stmts = map[string]*sql.Stmt{}
	}
	for _, s := range rows {
		if w.stmts[s.query] != nil {
			continue
		}
		stmt, err := w.db.PrepareContext(ctx, s.query)
		if err != nil {
			return err
		}
		w.stmts[s.query] = stmt
	}
	return nil
}

// change writes what f computes about commits that there are.
func (w *writer) change(f func(*batchWriter) error) error {
	next := w.pos.clone()
	w.batch.begin(&next)
	if err := f(&w.batch); err != nil {
		return err
	}
	if err := w.write(w.batch.rows); err != nil {
		return err
	}
	w.pos = next
	return nil
}

// run carries out statements.
func run(ctx context.Context, tx *sql.Tx, rows []statement) error {
	for _, s := range rows {
		if _, err := tx.ExecContext(ctx, s.query, s.args...); err != nil {
			return err
		}
	}
	return nil
}
