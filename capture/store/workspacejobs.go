package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"steadyrail/capture"
)

// Create makes the file of a new job, empty, and opens it. The sheet names the
// job; it becomes part of the record only when it is consumed. The error wraps
// [ErrExists] or [capture.ErrJobID]. Names that differ only in capitals are the
// same name, for on some systems they are.
func (w *Workspace) Create(sheet capture.Sheet) (*Job, error) {
	path, err := w.Path(sheet.Job)
	if err != nil {
		return nil, fmt.Errorf("create job: %w", err)
	}
	taken, err := w.taken(sheet.Job)
	if err != nil {
		return nil, fmt.Errorf("create job %s: %w", sheet.Job, err)
	}
	if taken != "" {
		return nil, fmt.Errorf("create job %s: %w: %s; take another name", sheet.Job, ErrExists, taken)
	}
	if err := createFile(context.Background(), path, sheet.Job, w.opts.Program); err != nil {
		return nil, fmt.Errorf("create job %s: %w", sheet.Job, err)
	}
	return w.start(sheet.Job, path, 0)
}

// taken returns the file that already has a job's name, in whatever capitals.
func (w *Workspace) taken(job string) (string, error) {
	files, err := os.ReadDir(w.jobs())
	if err != nil {
		return "", err
	}
	for _, f := range files {
		if strings.EqualFold(f.Name(), job+Extension) {
			return f.Name(), nil
		}
	}
	return "", nil
}

// Adopt moves a job's file, closed in order and made elsewhere on the same disk, among
// the jobs of the workspace, and makes its name durable. The error wraps [ErrExists]
// or [capture.ErrJobID].
func (w *Workspace) Adopt(path, job string) error {
	to, err := w.Path(job)
	if err != nil {
		return err
	}
	has, err := w.taken(job)
	if err == nil && has != "" {
		err = fmt.Errorf("%w: %s", ErrExists, has)
	}
	if err == nil {
		err = os.Rename(path, to)
	}
	if err == nil {
		err = syncDir(w.jobs())
	}
	if err != nil {
		return fmt.Errorf("take job %s into the workspace: %w", job, err)
	}
	return nil
}

// Open opens a job for writing, to go on where its log ends, however the daemon
// ended. For a job that is not closed it records the time since then, up to
// now, as a gap: see [Job.Gap]. Stamp no record at or before [Job.Upto]. An
// older file is first copied beside itself, then brought to this format. The
// error wraps [ErrNoJob], [ErrNewer], [ErrNotOurs] or [capture.ErrJobID].
func (w *Workspace) Open(job string, now capture.Instant) (*Job, error) {
	path, err := w.Path(job)
	if err != nil {
		return nil, fmt.Errorf("open job: %w", err)
	}
	if !fileExists(path) {
		return nil, fmt.Errorf("open job %s: %w in %s", job, ErrNoJob, w.dir)
	}
	return w.start(job, path, now)
}

// Discard deletes the file of a job that could not be opened, so that its name
// is free again. Only who has just created it may, before anyone was told of it:
// a record is never deleted. The file must be closed.
func (w *Workspace) Discard(job string) error {
	path, err := w.Path(job)
	if err != nil {
		return fmt.Errorf("discard job: %w", err)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if _, open := w.open[job]; open {
		return fmt.Errorf("discard job %s: it is open", job)
	}
	ctx := context.Background()
	if err := w.index.discard(ctx, job); err != nil {
		return fmt.Errorf("discard job %s: %w", job, err)
	}
	for _, file := range []string{path, path + "-wal", path + "-shm"} {
		if err := os.Remove(file); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("discard job %s: %w", job, err)
		}
	}
	return nil
}

// start opens a file for writing and keeps it in the list of open jobs.
func (w *Workspace) start(id, path string, now capture.Instant) (*Job, error) {
	w.mu.Lock()
	_, have := w.open[id]
	closed := w.closed
	if !have && !closed {
		w.open[id] = nil
	}
	w.mu.Unlock()
	switch {
	case closed:
		return nil, fmt.Errorf("open job %s: workspace is %w", id, ErrClosed)
	case have:
		return nil, fmt.Errorf("open job %s: it is open already in this process", id)
	}
	j, err := w.begin(id, path, now)
	w.mu.Lock()
	defer w.mu.Unlock()
	if err != nil {
		delete(w.open, id)
		return nil, fmt.Errorf("open job %s: %w", id, err)
	}
	w.open[id] = j
	return j, nil
}

func (w *Workspace) begin(id, path string, now capture.Instant) (*Job, error) {
	line := indexLine{index: w.index, ended: func() { w.forget(id) }}
	return openForWriting(context.Background(), path, id, w.opts, now, line)
}

// forget takes a job out of the list when its file is closed.
func (w *Workspace) forget(id string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	delete(w.open, id)
}
