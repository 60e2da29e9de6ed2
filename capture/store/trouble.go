package store

import (
	"errors"
	"syscall"
)

// Trouble tells that records cannot be written, and later, with a nil Err, that
// they can again. Nothing is lost while Dropped stays the same.
type Trouble struct {
	Job      string
	Err      error
	DiskFull bool
	Queued   int    // records that wait in memory
	Dropped  uint64 // readings given up since the job was opened
}

// report keeps the outcome of an attempt, wakes who waits for it, and tells
// the owner when the state changed.
func (w *writer) report(err error) {
	if err != nil && !hasCode(err, codeFull) {
		// A connection that met an input or output error may be spoilt: let
		// the next attempt open another.
		w.db.SetMaxIdleConns(0)
		w.db.SetMaxIdleConns(1)
	}
	now := Trouble{Job: w.job, Err: err, DiskFull: diskFull(err), Queued: w.queue.waiting()}
	w.queue.mu.Lock()
	now.Dropped = w.queue.dropped
	w.queue.mu.Unlock()

	w.mu.Lock()
	w.attempts++
	w.failed = err
	if err != nil {
		w.errors++
	}
	close(w.changed)
	w.changed = make(chan struct{})
	news := (err == nil) != (w.told.Err == nil) || now.DiskFull != w.told.DiskFull || now.Dropped != w.told.Dropped
	if news {
		w.told = now
	}
	w.mu.Unlock()
	if !news {
		return
	}
	w.queue.explain(now.reason())
	if w.tell != nil {
		w.tell(now)
	}
}

// reason is the word for gaps that begin now.
func (t Trouble) reason() string {
	switch {
	case t.DiskFull:
		return "disk full"
	case t.Err != nil:
		return "the disk refused: " + t.Err.Error()
	}
	return slowDisk
}

const slowDisk = "the disk did not keep up"

func diskFull(err error) bool { return hasCode(err, codeFull) || errors.Is(err, syscall.ENOSPC) }
