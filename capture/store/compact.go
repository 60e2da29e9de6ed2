package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
)

// Backup writes a whole copy of the job, as it is now, into a new file, which
// must not exist. It may run while the job is written; until it ends, the log in
// front of the file cannot be taken in. The copy is on the disk when it returns.
func (j *Job) Backup(ctx context.Context, path string) error {
	file, err := filepath.Abs(j.path)
	if err != nil {
		return j.wrap("back up", err)
	}
	db, err := openFor(ctx, file) // a reader's connection may not even write elsewhere
	if err != nil {
		return j.wrap("back up", err)
	}
	defer db.Close()
	return j.wrap("back up", copyInto(ctx, db, path))
}

// copyInto writes a compact copy of a database into a new file and waits until
// the disk has it: SQLite does not.
func copyInto(ctx context.Context, db *sql.DB, path string) error {
	if fileExists(path) {
		return fmt.Errorf("%s exists already: name a new file", path)
	}
	// SQLite fills an empty file, and would make one that everybody can read.
	empty, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	if err := empty.Close(); err != nil {
		return errors.Join(err, removeFile(path))
	}
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", path); err != nil {
		return errors.Join(err, removeFile(path))
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return errors.Join(err, removeFile(path))
	}
	return syncDir(filepath.Dir(path))
}

func removeFile(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}

// compact writes, beside the file of a closed job, one that is as small as it
// goes: what waits for a full block becomes one, and the pages lie in order. It
// returns its name. Whatever fails leaves the file as it was.
func (w *writer) compact(ctx context.Context) (fresh string, err error) {
	if err := w.fillUp(ctx); err != nil {
		return "", err
	}
	fresh = w.path + ".new"
	if err := removeFile(fresh); err != nil {
		return "", err
	}
	if err := copyInto(ctx, w.db, fresh); err != nil {
		return "", err
	}
	if err := sameHead(ctx, fresh, w.pos); err != nil {
		return "", errors.Join(err, removeFile(fresh))
	}
	return fresh, nil
}

// replace puts the compact file in the place of the one that was written, when
// that one is whole by itself: a log that stayed beside it would spoil the new
// file. Where the system refuses, because somebody reads it (on Windows), the job
// stays in the larger one too.
func (w *writer) replace(fresh string, whole bool) error {
	dir := filepath.Dir(w.path)
	if !whole || fileExists(w.path+"-wal") || syncDir(dir) != nil {
		return removeFile(fresh)
	}
	if err := os.Rename(fresh, w.path); err != nil {
		return removeFile(fresh)
	}
	return syncDir(dir)
}

// fillUp makes blocks of all readings that wait for one.
func (w *writer) fillUp(ctx context.Context) error {
	return w.change(func(b *batchWriter) error {
		b.fill()
		return b.fillUp()
	})
}

// fillUp writes what waits as blocks, full or not, and empties the tail.
func (b *batchWriter) fillUp() error {
	for _, id := range sorted(b.pos.filling) {
		f := b.pos.filling[id]
		if len(f.rows) == 0 {
			continue
		}
		rows := f.rows
		b.block(b.coder().brief(blockNumber(id, f.blocks), f.base, rows), slices.Clone(b.coder().append(rows)))
		f.cut(len(rows))
		b.pos.filling[id] = f
	}
	b.put("DELETE FROM rest")
	return b.fold(ruleRuns)
}

// sameHead checks that a copy is whole and ends where the log ends.
func sameHead(ctx context.Context, path string, pos position) error {
	db, err := openReader(ctx, path)
	if err != nil {
		return err
	}
	defer db.Close()
	var result string
	if err := db.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&result); err != nil {
		return fmt.Errorf("read the compact copy: %w", err)
	}
	if result != "ok" {
		return fmt.Errorf("the compact copy is damaged: %s", result)
	}
	s, h, err := newestSeal(ctx, db)
	if err != nil {
		return err
	}
	if s.n != pos.newest.n || h != pos.chain.head {
		return fmt.Errorf("the compact copy ends with commit %d, the job with %d", s.n, pos.newest.n)
	}
	return nil
}
