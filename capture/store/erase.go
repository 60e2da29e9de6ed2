package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"steadyrail/capture"
)

// ErrOpenJob is wrapped when what is asked needs a job that is closed.
var ErrOpenJob = errors.New("job is open")

// ErasedLog is the name of the list of erasures in a workspace's folder: one
// line of text for each, without the name of the job.
const ErasedLog = "erased.log"

// Erased says what is gone.
type Erased struct {
	Records uint64   `json:"records"`
	Head    string   `json:"head"`           // last hash of the chain, as reports print it
	Files   []string `json:"files"`          // removed, by name
	Left    []string `json:"left,omitempty"` // beside them, of a like name, and not made by this program
}

// Erase removes the file of a closed job, the older copies beside it and its
// line in the index, and leaves a dated line in [ErasedLog]: how many records,
// the last head and why, but not the name. It is for privacy: nothing else
// removes a record that anyone was told of, and nobody calls it but a person.
// The files are unlinked; what a disk still holds of them is beyond reach. The
// error wraps [ErrNoJob], [ErrOpenJob] or [capture.ErrJobID].
func (w *Workspace) Erase(ctx context.Context, job, why string, now capture.Instant) (Erased, error) {
	path, err := w.Path(job)
	if err != nil {
		return Erased{}, fmt.Errorf("erase job: %w", err)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if _, open := w.open[job]; open {
		return Erased{}, fmt.Errorf("erase job %s: %w", job, ErrOpenJob)
	}
	e, err := erasable(ctx, job, path)
	if err == nil {
		err = w.erase(ctx, job, path, why, now, &e)
	}
	if err != nil {
		return e, fmt.Errorf("erase job %s: %w", job, err)
	}
	return e, nil
}

// erasable looks whether a job may be erased, and what will go.
func erasable(ctx context.Context, job, path string) (e Erased, err error) {
	info, err := os.Lstat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return e, ErrNoJob
	}
	if err != nil {
		return e, err
	}
	if !info.Mode().IsRegular() {
		return e, fmt.Errorf("%s is a link to a file elsewhere: remove both by hand", path)
	}
	j, err := OpenFile(path)
	if err != nil {
		return e, fmt.Errorf("nobody can tell whether the job is closed: %w; to erase it all the same, remove the file by hand", err)
	}
	defer j.Close(ctx)
	s, err := j.summary(ctx)
	if err != nil {
		return e, fmt.Errorf("nobody can tell whether the job is closed: %w; to erase it all the same, remove the file by hand", err)
	}
	switch {
	case j.ID() != job:
		return e, fmt.Errorf("%w: the file holds job %s", ErrNoJob, j.ID())
	case s.Closed == 0:
		return e, ErrOpenJob
	}
	head, err := j.Head(ctx)
	if err != nil {
		return e, err
	}
	e.Records, e.Head = head.Count, head.Hash
	e.Files, e.Left, err = beside(path)
	return e, err
}

// beside lists the files that the program made for a job, its own last, and
// others whose names begin alike.
func beside(path string) (ours, others []string, err error) {
	files, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return nil, nil, err
	}
	for _, f := range files {
		rest, ok := strings.CutPrefix(f.Name(), filepath.Base(path))
		switch {
		case !ok || rest == "":
		case madeHere(rest):
			ours = append(ours, f.Name())
		default:
			others = append(others, f.Name())
		}
	}
	return append(ours, filepath.Base(path)), others, nil
}

// madeHere reports whether the end of a name, behind the job's, is one that
// this program or SQLite gives.
func madeHere(end string) bool {
	for _, of := range []string{"-wal", "-shm", "-journal"} {
		end = strings.TrimSuffix(end, of)
	}
	end = strings.TrimSuffix(end, ".new")
	return end == "" || isOldCopy(end)
}

// isOldCopy reports whether the end of a name is that of a copy in an older
// format.
func isOldCopy(end string) bool {
	number, ok := strings.CutPrefix(end, ".format")
	_, err := strconv.ParseUint(number, 10, 16)
	return ok && err == nil
}

// OldCopies lists the copies of a job in older formats, which [Workspace.Open]
// made before it changed the file. Nothing deletes them but [Workspace.Erase].
func OldCopies(path string) ([]string, error) {
	ours, _, err := beside(path)
	if err != nil {
		return nil, fmt.Errorf("look for old copies of %s: %w", path, err)
	}
	base := filepath.Base(path)
	return slices.DeleteFunc(ours, func(name string) bool { return !isOldCopy(strings.TrimPrefix(name, base)) }), nil
}

// erase writes the line, for a record must not vanish without one, and then
// removes the files, the job's own last: until it is gone, erasing goes on
// where it stopped.
func (w *Workspace) erase(ctx context.Context, job, path, why string, now capture.Instant, e *Erased) error {
	at := now.Time().UTC().Format(time.RFC3339)
	if err := w.noteErased(fmt.Sprintf("%s erased a job of %d records, head %s, because: %q\n", at, e.Records, e.Head, why)); err != nil {
		return err
	}
	for i, name := range e.Files {
		if err := removeFile(filepath.Join(w.jobs(), name)); err != nil {
			note := w.noteErased(fmt.Sprintf("%s the erasure in the line above did not succeed\n", at))
			e.Files = e.Files[:i]
			return errors.Join(err, note)
		}
	}
	return errors.Join(syncDir(filepath.Dir(path)), w.index.erase(ctx, job))
}

// noteErased appends a line and waits until the disk has it.
func (w *Workspace) noteErased(line string) error {
	f, err := os.OpenFile(filepath.Join(w.dir, ErasedLog), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = f.WriteString(line)
	return errors.Join(err, f.Sync(), f.Close(), syncDir(w.dir))
}

// erase takes a line out and writes the index anew, so that its file does not
// go on holding the words of the line.
func (x *index) erase(ctx context.Context, id string) error {
	if err := x.discard(ctx, id); err != nil {
		return err
	}
	_, err := x.db.ExecContext(ctx, "VACUUM; PRAGMA wal_checkpoint(TRUNCATE)")
	return err
}
