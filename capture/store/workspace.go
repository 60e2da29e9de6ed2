package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"sync"
	"time"

	"steadyrail/capture"
)

// Options of a workspace. The zero value is right for a bench.
type Options struct {
	Started       capture.Instant // for the lock file; 0: not said
	Address       string          // where the daemon listens, when it is known already
	Program       string          // version written into new files
	QueueLimit    int             // readings that may wait for the disk, a job; 0: a million, about 150 MB
	CommitEvery   time.Duration   // 0: one second
	AnyFileSystem bool            // do not look what kind of file system it is
	OnTrouble     func(Trouble)   // told when writing fails, drops or works again; must not block
}

func (o Options) withDefaults() Options {
	if o.QueueLimit <= 0 {
		o.QueueLimit = 1_000_000
	}
	if o.CommitEvery <= 0 {
		o.CommitEvery = time.Second
	}
	return o
}

// Workspace is the folder of a bench, held by this process until Close. It is
// safe for concurrent use.
type Workspace struct {
	dir   string
	opts  Options
	lock  *lock
	index *index

	mu     sync.Mutex
	open   map[string]*Job // nil while a job is being opened
	closed bool
}

// OpenWorkspace takes hold of a folder, making it when it is not there. When
// another process holds it the error is a *[HeldError]. A folder on a network
// file system or in one that is synchronised with other computers is refused,
// with the reason: write-ahead logs break there.
func OpenWorkspace(dir string, o Options) (*Workspace, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, fmt.Errorf("open workspace %s: %w", dir, err)
	}
	w := &Workspace{dir: abs, opts: o.withDefaults(), open: map[string]*Job{}}
	if err := makeFolders(w.jobs()); err != nil {
		return nil, fmt.Errorf("open workspace %s: %w", dir, err)
	}
	if !o.AnyFileSystem {
		if why := unfit(abs); why != "" {
			return nil, fmt.Errorf("open workspace %s: %s", dir, why)
		}
		if what := networkFileSystem(abs); what != "" {
			return nil, fmt.Errorf("open workspace %s: it lies on %s, where a sudden stop can ruin the record: choose a folder on a local disk", dir, what)
		}
	}
	if w.lock, err = takeLock(abs, Holder{PID: os.Getpid(), Address: o.Address, Started: o.Started}); err != nil {
		return nil, fmt.Errorf("open workspace %s: %w", dir, err)
	}
	if w.index, err = openIndex(context.Background(), filepath.Join(abs, "bench.sqlite"), w.jobs()); err != nil {
		w.lock.release()
		return nil, fmt.Errorf("open workspace %s: bench index: %w", dir, err)
	}
	return w, nil
}

// makeFolders makes a folder and those above it, and waits until the disk has
// each: otherwise a power cut takes the folder with all that is in it.
func makeFolders(dir string) error {
	if info, err := os.Stat(dir); err == nil && info.IsDir() {
		return nil
	}
	above := filepath.Dir(dir)
	if above != dir {
		if err := makeFolders(above); err != nil {
			return err
		}
	}
	if err := os.Mkdir(dir, 0o700); err != nil {
		return err
	}
	return syncDir(above)
}

func (w *Workspace) jobs() string { return filepath.Join(w.dir, "jobs") }

// Dir returns the folder, absolute.
func (w *Workspace) Dir() string { return w.dir }

// Token returns the secret that acts must carry, made anew at each start.
func (w *Workspace) Token() string { return w.lock.holder.Token }

// SetAddress writes into the lock file where the daemon listens, "host:port".
func (w *Workspace) SetAddress(address string) error { return w.lock.setAddress(address) }

// Path returns the file of a job, whether it exists or not. The error wraps
// [capture.ErrJobID].
func (w *Workspace) Path(job string) (string, error) {
	if err := capture.CheckJobID(job); err != nil {
		return "", err
	}
	return filepath.Join(w.jobs(), job+Extension), nil
}

// Jobs lists every job of the workspace, opened last first.
func (w *Workspace) Jobs(ctx context.Context) ([]Summary, error) {
	list, err := w.index.list(ctx)
	if err != nil {
		return nil, fmt.Errorf("list jobs: %w", err)
	}
	return list, nil
}

// Close closes every open job and lets the folder go. Closing twice is
// harmless.
func (w *Workspace) Close() error {
	w.mu.Lock()
	open := maps.Clone(w.open)
	closed := w.closed
	w.closed = true
	w.mu.Unlock()
	if closed {
		return nil
	}
	var errs []error
	for _, j := range open {
		if j != nil {
			errs = append(errs, j.Close(context.Background()))
			<-j.w.ended // an earlier Close may have given up waiting
		}
	}
	errs = append(errs, w.index.db.Close(), w.lock.release())
	return errors.Join(errs...)
}
