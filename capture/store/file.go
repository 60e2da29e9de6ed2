package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
)

// OpenFile opens a job's file for reading, also while a daemon writes it. The
// error wraps [ErrNotOurs], [ErrNewer] or [os.ErrNotExist] when that is the
// cause.
func OpenFile(path string) (*Job, error) {
	ctx := context.Background()
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("open job file: %w", err)
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("open job file %s: %w", path, err)
	}
	db, err := openReader(ctx, abs)
	if err != nil {
		return nil, fmt.Errorf("open job file %s: %w", path, ruined(abs, notOurs(err)))
	}
	format, err := jobKind.format(ctx, db)
	err = ruined(abs, err)
	if err == nil && format == 0 {
		err = fmt.Errorf("%w: it is empty", ErrNotOurs)
	}
	if err == nil && format < oldestRead {
		err = fmt.Errorf("it has the older format %d: open it once in a workspace, which copies it and changes its format", format)
	}
	var id string
	var left bool
	if err == nil {
		err = db.QueryRowContext(ctx, "SELECT value, clean FROM meta, alive WHERE name = 'job'").Scan(&id, &left)
	}
	if err != nil {
		db.Close()
		return nil, fmt.Errorf("open job file %s: %w", path, err)
	}
	return &Job{id: id, path: path, r: &reader{db: db}, left: left, plain: format < formatEnclosures}, nil
}

const (
	// oldestRead is the oldest format that is read as it is: what came since is
	// more tables and a rule for commits that they do not have.
	oldestRead = 2
	// formatEnclosures is the first with pictures and sounds.
	formatEnclosures = 3
	// formatRuns is the first whose leaves bind runs of records.
	formatRuns = 4
)

// createFile makes an empty job file. It appears under its name complete or
// not at all.
func createFile(ctx context.Context, path, id, program string) (err error) {
	fresh := path + ".new"
	for _, old := range []string{fresh, fresh + "-wal", fresh + "-shm"} {
		if err := os.Remove(old); err != nil && !os.IsNotExist(err) {
			return err
		}
	}
	f, err := os.OpenFile(fresh, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600)
	if err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	db, err := openWriter(ctx, fresh, jobKind)
	if err != nil {
		return err
	}
	err = jobKind.migrate(ctx, db, nil)
	if err == nil {
		err = describe(ctx, db, id, program)
	}
	if err == nil {
		err = alone(ctx, db, fresh)
	}
	if e := db.Close(); err == nil {
		err = e
	}
	if err != nil {
		return errors.Join(err, removeFile(fresh))
	}
	if err := os.Rename(fresh, path); err != nil {
		return err
	}
	if err := syncDir(filepath.Dir(path)); err != nil {
		return errors.Join(err, removeFile(path)) // it may be gone after a power cut: nobody is to rely on it
	}
	return nil
}

// alone makes a file whole by itself: its write-ahead log is taken in and gone.
// Closing would do that too, but says nothing when it fails, and a log that is
// left behind spoils whatever takes the file's name.
func alone(ctx context.Context, db *sql.DB, path string) error {
	var mode string
	if err := db.QueryRowContext(ctx, "PRAGMA journal_mode = DELETE").Scan(&mode); err != nil {
		return fmt.Errorf("take the log in: %w", err)
	}
	if mode != "delete" || fileExists(path+"-wal") {
		return fmt.Errorf("the log of %s stays beside it (journal mode %s): somebody reads the file", filepath.Base(path), mode)
	}
	return nil
}

// describe writes what the file says about itself.
func describe(ctx context.Context, db *sql.DB, id, program string) error {
	text, err := embedded.ReadFile("spec.txt")
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, "INSERT OR REPLACE INTO spec VALUES ('format', ?1), ('block', ?2); INSERT OR IGNORE INTO meta VALUES ('job', ?3), ('writer', ?4)",
		string(text), block.Format, id, strings.TrimSpace("steadyrail "+program))
	return err
}

// openForWriting opens an existing file, finds the end of its log and starts
// its writer. now closes the gap since the daemon last ran.
func openForWriting(ctx context.Context, path, id string, o Options, now capture.Instant, line indexLine) (*Job, error) {
	db, err := openWriter(ctx, path, jobKind)
	if err != nil {
		return nil, notOurs(err)
	}
	w := &writer{
		job: id, path: path, db: db, every: o.CommitEvery, tell: o.OnTrouble, line: line,
		queue: queue{limit: o.QueueLimit, reason: slowDisk},
		wake:  make(chan struct{}, 1), tasks: make(chan task), stop: make(chan struct{}), ended: make(chan struct{}), changed: make(chan struct{}),
	}
	j := &Job{id: id, path: path, w: w}
	if err := j.prepare(ctx, o, now); err != nil {
		db.Close()
		if j.r != nil {
			j.r.db.Close()
		}
		return nil, err
	}
	go w.run()
	if j.gap != nil {
		if err := j.Sync(ctx); err != nil {
			return nil, fmt.Errorf("mark the gap: %w", joinClose(err, j))
		}
	}
	return j, nil
}

func joinClose(err error, j *Job) error {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	_ = j.Close(ctx)
	return err
}

// prepare does everything of opening that can fail before anything runs.
func (j *Job) prepare(ctx context.Context, o Options, now capture.Instant) error {
	copyTo := func(format int) string { return fmt.Sprintf("%s.format%d", j.path, format) }
	err := jobKind.migrate(ctx, j.w.db, copyTo)
	if err == nil {
		err = describe(ctx, j.w.db, j.id, o.Program)
	}
	if err != nil {
		return err
	}
	var inside string
	if err := j.w.db.QueryRowContext(ctx, "SELECT value, clean FROM meta, alive WHERE name = 'job'").Scan(&inside, &j.left); err != nil {
		return err
	}
	if inside != j.id {
		return fmt.Errorf("the file holds job %s: give it back the name %s", inside, inside+Extension)
	}
	db, err := openReader(ctx, j.path)
	if err != nil {
		return err
	}
	j.r = &reader{db: db}
	if err := j.resume(ctx, now); err != nil {
		return err
	}
	if _, err = j.w.db.ExecContext(ctx, "UPDATE alive SET clean = 0"); err != nil {
		return err
	}
	if j.w.line.summary, err = j.summary(ctx); err != nil {
		return err
	}
	return j.w.line.put(true)
}
