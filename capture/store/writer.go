package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"sync"
	"time"

	"steadyrail/capture"
)

// batchLimit bounds a transaction: the backlog of a full disk goes out in
// pieces, and each piece is durable.
const batchLimit = 20_000

// aliveEvery is how many commit periods may pass with nothing to write before
// the file is told that the daemon still runs.
const aliveEvery = 10

// writer is the one goroutine that writes a job's file.
type writer struct {
	job   string
	path  string
	db    *sql.DB
	every time.Duration
	tell  func(Trouble)
	line  indexLine
	queue queue
	wake  chan struct{}
	stop  chan struct{}
	ended chan struct{}
	tasks chan task // for the one connection that writes
	final error     // why closing failed; read after ended

	pos    position // of the goroutine alone
	opened int64    // newest commit when the file was opened
	idle   int      // periods since something was written
	batch  batchWriter
	stmts  map[string]*sql.Stmt

	mu       sync.Mutex
	changed  chan struct{} // closed and made anew after each attempt
	attempts uint64
	failed   error // of the last attempt
	errors   uint64
	told     Trouble
	begin    func() error // seam for tests: fails a commit before it begins
}

// run writes until stop is closed, then what is left.
func (w *writer) run() {
	defer close(w.ended)
	tick := time.NewTicker(w.every)
	defer tick.Stop()
	for {
		select {
		case <-tick.C:
			w.idle++
			w.flush()
		case <-w.wake:
			w.flush()
		case t := <-w.tasks:
			t.done <- t.do(w.db)
		case <-w.stop:
			w.queue.close()
			w.final = w.finish()
			w.line.end()
			return
		}
	}
}

// keepAlive writes, seldom, that the log is complete up to now.
func (w *writer) keepAlive(upto capture.Instant) {
	if w.idle < aliveEvery || upto <= w.pos.upto {
		return
	}
	_, err := w.db.Exec("UPDATE alive SET upto = ?", int64(upto))
	if err == nil {
		w.pos.upto, w.idle = upto, 0
	}
	w.report(err)
}

// last writes what is left and marks the file as stopped in order.
func (w *writer) last() error {
	w.flush()
	if n := w.queue.waiting(); n > 0 {
		return fmt.Errorf("%d records of job %s could not be written and are lost: %w", n, w.job, w.lastError())
	}
	_, upto := w.queue.take(0)
	_, err := w.db.Exec("UPDATE alive SET upto = ?, clean = 1", int64(max(upto, w.pos.upto)))
	w.report(err)
	return err
}

// finish is the end of the goroutine: what waits is written, and the file is
// left whole by itself. A file without a write-ahead log can be read from a
// medium that cannot be written; it keeps its log when somebody reads it now. That
// of a closed job is made compact.
func (w *writer) finish() error {
	ctx := context.Background()
	err := w.last()
	fresh := ""
	if err == nil && w.line.summary.Closed != 0 && w.pos.newest.n != w.opened {
		// Whatever stops it, all that was measured is safe in the larger file.
		fresh, _ = w.compact(ctx)
	}
	whole := false
	if err == nil {
		_, _ = w.db.Exec("PRAGMA busy_timeout = 0")
		whole = alone(ctx, w.db, w.path) == nil
	}
	if err = errors.Join(err, w.db.Close()); err == nil && fresh != "" {
		err = w.replace(fresh, whole)
	}
	return err
}

func (w *writer) lastError() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.failed
}

// sync waits until everything accepted so far is durable. It returns the error
// of the first attempt that fails meanwhile.
func (w *writer) sync(ctx context.Context) error {
	target := w.queue.accepted()
	w.mu.Lock()
	seen := w.attempts
	w.mu.Unlock()
	for {
		w.mu.Lock()
		changed, attempts, err := w.changed, w.attempts, w.failed
		w.mu.Unlock()
		if w.queue.reached(target) {
			return nil
		}
		if attempts > seen && err != nil {
			return err
		}
		w.nudge()
		select {
		case <-changed:
		case <-w.ended:
			if w.queue.reached(target) {
				return nil
			}
			return ErrClosed
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// nudge asks for a commit now.
func (w *writer) nudge() {
	select {
	case w.wake <- struct{}{}:
	default:
	}
}
