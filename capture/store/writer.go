package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"sync"
	"syscall"
	"time"

	"steadyrail/capture"
)

// batchLimit bounds a transaction: the backlog of a full disk goes out in
// pieces, and each piece is durable.
const batchLimit = 20_000

// aliveEvery is how many commit periods may pass with nothing to write before
// the file is told that the daemon still runs.
const aliveEvery = 10

// position is where the log of a file ends: what the writer must know to go
// on. A commit works on a copy, which takes effect when it is durable.
type position struct {
	seq, n   int64
	head     hash
	upto     capture.Instant
	channels map[channelKey]int64
	cells    cells
}

type channelKey struct {
	name     capture.ChannelID
	quantity capture.Quantity
}

func (p position) clone() position {
	p.channels, p.cells = maps.Clone(p.channels), maps.Clone(p.cells)
	return p
}

// writer is the one goroutine that writes a job's file.
type writer struct {
	job   string
	db    *sql.DB
	many  *sql.Stmt // inserts rowsAtOnce readings
	every time.Duration
	tell  func(Trouble)
	line  indexLine
	queue queue
	wake  chan struct{}
	stop  chan struct{}
	ended chan struct{}
	final error // why closing failed; read after ended

	pos  position // of the goroutine alone
	idle int      // periods since something was written
	buf  canon

	mu       sync.Mutex
	changed  chan struct{} // closed and made anew after each attempt
	attempts uint64
	failed   error // of the last attempt
	errors   uint64
	told     Trouble
	begin    func() error // seam for tests: fails a commit before it begins
}

// Trouble tells that records cannot be written, and later, with a nil Err, that
// they can again. Nothing is lost while Dropped stays the same.
type Trouble struct {
	Job      string
	Err      error
	DiskFull bool
	Queued   int    // records that wait in memory
	Dropped  uint64 // readings given up since the job was opened
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
		case <-w.stop:
			w.queue.close()
			w.final = w.finish()
			w.line.end()
			return
		}
	}
}

// flush commits until nothing waits or an attempt fails. Between pieces of a
// long backlog it looks whether it must stop.
func (w *writer) flush() {
	for {
		batch, upto := w.queue.take(batchLimit)
		if len(batch) == 0 {
			w.queue.done(false)
			w.keepAlive(upto)
			return
		}
		err := w.commit(batch, upto)
		if err == nil {
			w.line.committed(batch)
		}
		w.queue.done(err == nil)
		w.report(err)
		if err != nil {
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
// medium that cannot be written; it keeps its log when somebody reads it now.
func (w *writer) finish() error {
	err := w.last()
	if err == nil {
		_, _ = w.db.Exec("PRAGMA busy_timeout = 0; PRAGMA journal_mode = DELETE")
	}
	return errors.Join(err, w.db.Close())
}

// commit writes one batch in one transaction.
func (w *writer) commit(batch []entry, upto capture.Instant) (err error) {
	if w.begin != nil {
		if err := w.begin(); err != nil {
			return err
		}
	}
	ctx := context.Background() // a commit is not given up half way
	tx, err := w.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			tx.Rollback()
		}
	}()
	next := w.pos.clone()
	b := &batchWriter{tx: tx, pos: &next, canon: &w.buf, many: tx.Stmt(w.many)}
	if err := b.write(batch, upto); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	w.pos, w.idle = next, 0
	return nil
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
