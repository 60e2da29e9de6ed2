package store

import (
	"context"
	"os"
	"sync"

	"steadyrail/capture"
)

// Extension ends the names of job files.
const Extension = ".steadyrail"

// Job is one job's file, open. It is safe for concurrent use. Who opened it
// closes it.
type Job struct {
	id   string
	path string
	r    *reader
	w    *writer // nil when open for reading only
	gap  *capture.Record
	left bool // in order, when it was opened
	// plain files are of a format without enclosures.
	plain bool

	closing sync.Once
	closed  error
}

// ID returns the job's name.
func (j *Job) ID() string { return j.id }

// Path returns the file's name.
func (j *Job) Path() string { return j.path }

// Gap returns the record that Open wrote when the daemon had not been running
// for a while, and whether it did. The record is committed and among Records.
func (j *Job) Gap() (capture.Record, bool) {
	if j.gap == nil {
		return capture.Record{}, false
	}
	return *j.gap, true
}

// LeftInOrder reports whether whoever wrote the file last had closed it when it
// was opened now; false after a crash or a power cut, or while a daemon has it.
func (j *Job) LeftInOrder() bool { return j.left }

// Consume takes the next record of the log; records of other jobs are passed
// over. It never blocks and never fails: what cannot be written waits, and what
// cannot wait is counted in [Stats] and marked as a gap. A [capture.Tick] says
// that the log is complete up to then. Records must come in order; one from
// before the last is refused and counted.
func (j *Job) Consume(rec capture.Record) {
	if j.w == nil {
		return
	}
	if _, ok := rec.Item.(capture.Tick); ok {
		j.w.queue.tick(rec.At)
		return
	}
	if rec.Job == j.id && rec.Item != nil {
		j.w.queue.add(entry{at: rec.At, item: rec.Item})
	}
}

// Transition takes an alarm's transition, right behind the record that caused
// it, and has everything so far committed at once.
func (j *Job) Transition(t capture.Transition) {
	if j.w == nil {
		return
	}
	j.w.queue.add(entry{at: t.At, transition: &t})
	j.w.nudge()
}

// Sync waits until everything consumed so far is durable.
func (j *Job) Sync(ctx context.Context) error {
	if j.w == nil {
		return j.wrap("write", ErrReadOnly)
	}
	return j.wrap("write", j.w.sync(ctx))
}

// Stats tells how the writing fares.
type Stats struct {
	Bytes   int64  // of the file and its write-ahead log
	Queued  int    // records that wait in memory
	Written uint64 // records made durable since the job was opened
	Dropped uint64 // readings given up because too many waited
	Refused uint64 // records that came out of order or after Close
	Errors  uint64 // commits that failed
	Problem string // of the last attempt; "" when it succeeded
}

// Stats returns the present figures.
func (j *Job) Stats() Stats {
	s := Stats{Bytes: sizeOf(j.path) + sizeOf(j.path+"-wal")}
	if j.w == nil {
		return s
	}
	q := &j.w.queue
	q.mu.Lock()
	s.Queued, s.Written, s.Dropped, s.Refused = len(q.list), q.out, q.dropped, q.refused
	q.mu.Unlock()
	j.w.mu.Lock()
	s.Errors = j.w.errors
	if j.w.failed != nil {
		s.Problem = j.w.failed.Error()
	}
	j.w.mu.Unlock()
	return s
}

// Close writes what waits, marks the file as left in order and lets it go. When
// ctx ends first, Close returns its error and the writer ends by itself. What
// could not be written is an error that says how much. Closing twice is
// harmless.
func (j *Job) Close(ctx context.Context) error {
	j.closing.Do(func() { j.closed = j.close(ctx) })
	return j.closed
}

func (j *Job) close(ctx context.Context) error {
	err := j.r.db.Close()
	if j.w == nil {
		return j.wrap("close", err)
	}
	close(j.w.stop)
	select {
	case <-j.w.ended:
		return j.wrap("close", j.w.final)
	case <-ctx.Done():
		return j.wrap("close", ctx.Err())
	}
}

func sizeOf(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return info.Size()
}

func fileExists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}
