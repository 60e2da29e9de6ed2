package store

import (
	"runtime"
	"testing"
	"weak"

	"steadyrail/capture"
)

func reading(at capture.Instant) entry { return entry{at: at, item: capture.Reading{}} }
func note(at capture.Instant) entry {
	return entry{at: at, item: capture.Act{Verb: capture.ActNote}}
}

// drain takes everything and returns the instants, with gaps as they stand.
func drain(q *queue) (at []capture.Instant, gaps []capture.Gap) {
	for {
		batch, _ := q.take(1000)
		if len(batch) == 0 {
			q.done(false)
			return at, gaps
		}
		for _, e := range batch {
			at = append(at, e.at)
			if e.lost != nil {
				gaps = append(gaps, *e.lost)
			}
		}
		q.done(true)
	}
}

func TestFullQueueDropsTheNewestWholeSeconds(t *testing.T) {
	q := &queue{limit: 10, reason: "disk full"}
	const s = second
	for i := range capture.Instant(8) {
		q.add(reading(100*s + i*1000))
	}
	q.add(reading(101 * s))
	q.add(note(101*s + 1))
	q.add(reading(101*s + 2)) // the tenth
	q.add(note(101*s + 3))
	q.add(reading(101*s + 4)) // too many: second 101 goes
	q.add(reading(101*s + 5))
	q.add(note(101*s + 6)) // but what people did stays
	q.add(reading(102 * s))
	q.add(reading(103 * s)) // there is room again
	if q.dropped != 4 || q.readings != 10 {
		t.Errorf("dropped %d, waiting %d", q.dropped, q.readings)
	}
	at, gaps := drain(q)
	want := []capture.Instant{100 * s, 100*s + 1000, 100*s + 2000, 100*s + 3000, 100*s + 4000, 100*s + 5000, 100*s + 6000, 100*s + 7000,
		101 * s /* the gap */, 101*s + 1, 101*s + 3, 101*s + 6, 102 * s, 103 * s}
	if len(at) != len(want) {
		t.Fatalf("at %v\nwant %v", at, want)
	}
	for i := range at {
		if at[i] != want[i] {
			t.Fatalf("at %v\nwant %v", at, want)
		}
	}
	if len(gaps) != 1 || gaps[0] != (capture.Gap{From: 101 * s, To: 101*s + 5, Reason: "disk full", Dropped: 4}) {
		t.Errorf("gaps %+v", gaps)
	}
	if !q.reached(q.accepted()) || q.readings != 0 {
		t.Errorf("after draining: put %d out %d readings %d", q.put, q.out, q.readings)
	}
}

// What the writer holds in its hands is not touched.
func TestFullQueueLeavesTheBatchUnderWay(t *testing.T) {
	q := &queue{limit: 4}
	for i := range capture.Instant(4) {
		q.add(reading(second + i))
	}
	batch, _ := q.take(3)
	for i := capture.Instant(4); i < 10; i++ {
		q.add(reading(second + i))
	}
	for i, e := range batch {
		if e.at != second+capture.Instant(i) || !e.isReading() {
			t.Fatalf("entry %d became %+v", i, e)
		}
	}
	q.done(true)
	q.add(reading(2 * second))
	at, gaps := drain(q)
	if len(gaps) != 1 || gaps[0].From != second+3 || gaps[0].To != second+9 || gaps[0].Dropped != 7 || len(at) != 2 {
		t.Errorf("at %v gaps %+v", at, gaps)
	}
}

// A gap that nothing ends is ended by the writer, who has made room.
func TestWriterEndsAGapAtTheEnd(t *testing.T) {
	q := &queue{limit: 2}
	for i := range capture.Instant(5) {
		q.add(reading(i * second))
	}
	_, gaps := drain(q)
	if len(gaps) != 1 || gaps[0].Dropped != 3 || gaps[0].To != 4*second || q.dropping != nil {
		t.Errorf("gaps %+v", gaps)
	}
}

// A backlog that was written away leaves its memory, whichever way the last of it
// goes, and though what comes from then on would fit behind it.
func TestLongQueueGivesItsMemoryBack(t *testing.T) {
	for _, batch := range []int{1000, 3000, batchLimit} {
		q := &queue{limit: 1e6}
		for i := range capture.Instant(5*batchLimit/2 + 1) {
			q.add(reading(i))
		}
		long := weak.Make(&q.list[0])
		for {
			list, _ := q.take(batch)
			if q.done(true); len(list) == 0 {
				break
			}
		}
		runtime.GC()
		if long.Value() != nil {
			t.Errorf("written by %d: the memory of %d entries is kept for a queue of %d", batch, 5*batchLimit/2+1, cap(q.list))
		}
	}
}
