package store

import (
	"sync"

	"steadyrail/capture"
)

// entry is something that waits to be written: exactly one of the pointers, or
// item, is set.
type entry struct {
	at         capture.Instant
	item       capture.Item
	transition *capture.Transition
	lost       *capture.Gap // stands where readings were dropped
}

func (e *entry) isReading() bool {
	_, ok := e.item.(capture.Reading)
	return ok
}

const second = capture.Instant(1e6)

// queue holds what waits for the disk, in order. When limit readings wait,
// whole seconds of readings are dropped, the newest first, and a gap stands in
// their place; placements, acts and alarms are never dropped. Safe for
// concurrent use by any number of putters and one taker.
type queue struct {
	mu       sync.Mutex
	list     []entry // list[:taken] is in the writer's hands
	slid     bool    // list does not begin where its memory does
	taken    int
	readings int // in list
	limit    int // readings
	upto     capture.Instant
	dropping *capture.Gap // the gap under way
	reason   string       // why the disk does not keep up, for gaps
	put, out uint64       // entries ever accepted, ever written
	dropped  uint64       // readings
	refused  uint64       // entries out of order or after the end
	closed   bool
}

// add appends an entry. What lies before the last entry or tick is refused and
// counted: the order of the log is not to be mended here.
func (q *queue) add(e entry) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.closed || e.at < q.upto {
		q.refused++
		return
	}
	q.upto = e.at
	if q.dropping != nil && e.at/second != q.dropping.To/second && q.readings < q.limit {
		q.dropping = nil
	}
	if e.isReading() {
		if q.dropping == nil && q.readings >= q.limit {
			q.startDropping(e.at)
		}
		if q.dropping != nil {
			q.drop(e.at)
			return
		}
		q.readings++
	}
	q.list = append(q.list, e)
	q.put++
}

// startDropping takes the readings of the present second out of the queue,
// as far as the writer does not hold them, and puts a gap in their place.
func (q *queue) startDropping(at capture.Instant) {
	q.dropping = &capture.Gap{Reason: q.reason}
	from := len(q.list)
	for from > q.taken && q.list[from-1].at/second == at/second {
		from--
	}
	tail := append([]entry(nil), q.list[from:]...)
	q.list = q.list[:from]
	q.put -= uint64(len(tail))
	for _, e := range tail {
		if e.isReading() {
			q.readings--
			q.drop(e.at)
			continue
		}
		q.list = append(q.list, e)
		q.put++
	}
}

// drop counts a lost reading into the gap under way, and puts the gap into the
// list with the first.
func (q *queue) drop(at capture.Instant) {
	g := q.dropping
	if g.Dropped == 0 {
		g.From = at
		q.list = append(q.list, entry{at: at, lost: g})
		q.put++
	}
	g.To = at
	g.Dropped++
	q.dropped++
}

// tick says that the log is complete up to an instant.
func (q *queue) tick(at capture.Instant) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if !q.closed {
		q.upto = max(q.upto, at)
	}
}

// take hands out the oldest entries, at most n, to be given back with done; and
// the instant up to which the log is complete with them. A gap that still grows
// ends the batch, or ends itself when it is the first.
func (q *queue) take(n int) ([]entry, capture.Instant) {
	q.mu.Lock()
	defer q.mu.Unlock()
	n = min(n, len(q.list))
	for i := range q.list[:n] {
		if q.list[i].lost != nil && q.list[i].lost == q.dropping {
			if i > 0 {
				n = i
				break
			}
			q.dropping = nil
		}
	}
	q.taken = n
	if n == len(q.list) {
		return q.list[:n:n], q.upto
	}
	return q.list[:n:n], q.list[n-1].at
}

// done ends what take began: written, the entries leave the queue.
func (q *queue) done(written bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if written {
		for i := range q.list[:q.taken] {
			if q.list[i].isReading() {
				q.readings--
			}
			q.list[i] = entry{} // let go of what it points to
		}
		q.out += uint64(q.taken)
		q.leave()
	}
	q.taken = 0
}

// leave closes up behind the entries that were written.
func (q *queue) leave() {
	rest := q.list[q.taken:]
	switch {
	case len(rest) > q.taken:
		q.list, q.slid = rest, true // a long backlog is not moved again and again
	case q.slid || cap(q.list) > 2*batchLimit:
		// A queue that once was long gives its memory back. Of nothing slices.Clone
		// would still point there.
		q.list, q.slid = append([]entry(nil), rest...), false
	default:
		n := copy(q.list, rest)
		clear(rest)
		q.list = q.list[:n]
	}
}

// explain sets the reason that coming gaps give.
func (q *queue) explain(reason string) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.reason = reason
}

// reached reports whether everything accepted before the count target has been
// written or dropped.
func (q *queue) reached(target uint64) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.out >= min(target, q.put)
}

// accepted returns the count of entries accepted so far.
func (q *queue) accepted() uint64 {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.put
}

// waiting returns the number of entries that wait.
func (q *queue) waiting() int {
	q.mu.Lock()
	defer q.mu.Unlock()
	return len(q.list)
}

// close refuses everything from now on.
func (q *queue) close() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.closed = true
	q.dropping = nil
}
