package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"steadyrail/capture"
)

// Copied is a backup of one job.
type Copied struct {
	Job     string       `json:"job"`
	Path    string       `json:"path"`
	Bytes   int64        `json:"bytes"`
	Head    capture.Head `json:"head"`              // of the copy, from its own records
	Damaged string       `json:"damaged,omitempty"` // why the job itself fails Verify, and its copy with it
}

// JobFiles lists the files of all jobs of a workspace, by name. It looks at the
// folder only: a daemon may hold it.
func JobFiles(dir string) ([]string, error) {
	jobs := filepath.Join(dir, "jobs")
	files, err := os.ReadDir(jobs)
	if err != nil {
		return nil, fmt.Errorf("list the jobs of %s: %w", dir, err)
	}
	var out []string
	for _, f := range files {
		if !f.IsDir() && strings.HasSuffix(f.Name(), Extension) {
			out = append(out, filepath.Join(jobs, f.Name()))
		}
	}
	return out, nil
}

// BackupFile copies a job's file, also while a daemon writes it, into a new
// file, and verifies the copy before that file appears. It replaces nothing:
// the error wraps [fs.ErrExist] when there is something of that name. A job
// that is damaged itself is copied as it is, and Damaged says so.
func BackupFile(ctx context.Context, from, to string) (Copied, error) {
	abs, err := filepath.Abs(from) // [Job.Backup] opens it by this name again
	if err != nil {
		return Copied{}, fmt.Errorf("back up %s: %w", from, err)
	}
	j, err := OpenFile(abs)
	if err != nil {
		return Copied{}, fmt.Errorf("back up: %w", err)
	}
	defer j.Close(ctx)
	out := Copied{Job: j.ID(), Path: to}
	if fileExists(to) {
		return out, j.wrap("back up", fmt.Errorf("%s: %w", to, fs.ErrExist))
	}
	// Beside the place where it goes, so that it can be moved there whole.
	folder, err := os.MkdirTemp(filepath.Dir(to), ".backup-*")
	if err != nil {
		return out, j.wrap("back up", err)
	}
	defer os.RemoveAll(folder)
	part := filepath.Join(folder, filepath.Base(to))
	if err := j.Backup(ctx, part); err != nil {
		return out, err
	}
	if out.Head, err = verifyFile(ctx, part); err != nil {
		if _, own := j.Verify(ctx); !errors.Is(err, ErrBroken) || !errors.Is(own, ErrBroken) {
			return out, j.wrap("back up", fmt.Errorf("the copy is not as it should be: %w", err))
		}
		out.Damaged = err.Error()
	}
	if err := os.Chmod(part, 0o600); err != nil { // as the job's own file
		return out, j.wrap("back up", err)
	}
	out.Bytes = sizeOf(part)
	return out, j.wrap("back up", moveIn(part, to))
}

// verifyFile reads a whole file by itself.
func verifyFile(ctx context.Context, path string) (capture.Head, error) {
	j, err := OpenFile(path)
	if err != nil {
		return capture.Head{}, err
	}
	defer j.Close(ctx)
	return j.Verify(ctx)
}

// moveIn gives a file its name for good, and takes no other's. A file system
// without links, as on many memory sticks, has no single step for that.
func moveIn(part, to string) error {
	err := os.Link(part, to)
	switch {
	case errors.Is(err, fs.ErrExist):
		return fmt.Errorf("%s: %w", to, fs.ErrExist)
	case err != nil && fileExists(to):
		return fmt.Errorf("%s: %w", to, fs.ErrExist)
	case err != nil:
		err = os.Rename(part, to)
	}
	if err != nil {
		return err
	}
	return syncDir(filepath.Dir(to))
}
