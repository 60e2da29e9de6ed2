// Package bus puts everything that happens on a bench into one order.
//
// It is the only place that says when something was answered. Readings come
// from the pollers ([Bus.Read]), everything else from the application
// ([Bus.Post]); the bus stamps each with an instant, files readings under the
// job that their channel serves, and hands the record to its sinks before it
// returns. It promises:
//
//   - Instants are strictly increasing in microseconds over the whole bench,
//     whatever the clock does, and no record lies on a point of the tick grid.
//   - Before a record is handed out, every tick up to its instant has been. A
//     job sees the ticks from the first grid point after its first record up to
//     its closing, exactly those that [capture.Ticks] makes again from the file.
//   - Sinks are called one at a time, in the order in which they were attached.
//   - A reading is filed under a job only if its measuring began after the
//     channel was put where it is now. What was under way when a probe moved
//     reaches the bench-wide sinks with an empty job, and no rail. Nor is the
//     reading of an instrument in doubt: see [Bus.Doubt].
//
// A sink must not block and must not call the bus; one that tries while the bus
// is held is told so by a panic instead of a silent deadlock. What it wants to
// cause it hands to [Bus.Defer].
//
// All methods are safe for concurrent use. Only the application makes a bus;
// pollers see it through an interface of their own.
package bus

import (
	"sync"

	"steadyrail/capture"
)

const grid = capture.Instant(capture.TickGrid / 1000)

// Bus is the sequencer of one bench. Use [New].
type Bus struct {
	clock capture.Clock

	mu       sync.Mutex
	last     capture.Instant // newest instant handed out, ticks included
	ticked   capture.Instant // ticks up to here are handed out
	sinks    []*attached
	jobs     map[string]*job
	open     []*job // in order of opening
	routes   map[capture.ChannelID]route
	ordinals map[counted]uint64
	groups   map[capture.ChannelID][]capture.ChannelID // others on the same input
	doubts   map[string]doubt                          // by instrument

	later deferred
}

type attached struct {
	job  *job // nil: bench-wide
	sink capture.Sink
}

// counted is what ordinals are counted by: a hole in a job's ordinals is a
// reading that was lost, not one that another job got.
type counted struct {
	job string
	ch  capture.ChannelID
}

// New returns a bus that starts at the clock's present instant.
func New(clock capture.Clock) *Bus {
	now := clock.Now()
	return &Bus{
		clock: clock, last: now, ticked: now,
		jobs:     map[string]*job{},
		routes:   map[capture.ChannelID]route{},
		ordinals: map[counted]uint64{},
		groups:   map[capture.ChannelID][]capture.ChannelID{},
		doubts:   map[string]doubt{},
	}
}

// Attach adds a sink behind those already there. A sink of a job gets the
// job's records and ticks, with the job's name in both; the empty job means
// everything of the bench, with one series of ticks whose Job is empty. The job
// need not be open yet. After detach has returned, the sink gets nothing more;
// calling it twice is harmless.
func (b *Bus) Attach(job string, s capture.Sink) (detach func()) {
	b.lock()
	defer b.unlock()
	a := &attached{sink: s}
	if job != "" {
		a.job = b.job(job)
	}
	b.sinks = append(b.sinks, a)
	return func() { b.detach(a) }
}

func (b *Bus) detach(a *attached) {
	b.lock()
	defer b.unlock()
	for i, have := range b.sinks {
		if have == a {
			// A new slice, so that no delivery ever sees one change under it.
			b.sinks = append(b.sinks[:i:i], b.sinks[i+1:]...)
			return
		}
	}
}

// Read takes a reading of which nothing is known but that it is complete now:
// a typed value. It returns the instant it was given.
func (b *Bus) Read(r capture.Reading) capture.Instant {
	b.lock()
	defer b.unlock()
	return b.read(r, b.routes[r.Channel])
}

// ReadBegun takes a reading whose measuring began at the given instant of the
// bus's clock. If the channel was moved since, or in the same microsecond, the
// reading belongs to no job: nobody can say which rail it saw.
func (b *Bus) ReadBegun(r capture.Reading, begun capture.Instant) capture.Instant {
	b.lock()
	defer b.unlock()
	to := b.routes[r.Channel]
	if begun <= to.moved || b.doubtful(r, begun) {
		to = route{}
	}
	return b.read(r, to)
}

func (b *Bus) read(r capture.Reading, to route) capture.Instant {
	key := counted{ch: r.Channel}
	if to.job != nil {
		key.job = to.job.name
	}
	b.ordinals[key]++
	r.Ordinal = b.ordinals[key]
	return b.record(to.job, r)
}

// record stamps an item, hands out the ticks before it and then the item.
func (b *Bus) record(j *job, item capture.Item) capture.Instant {
	at := b.stamp()
	b.tick(at)
	b.hand(j, at, item)
	return at
}

func (b *Bus) hand(j *job, at capture.Instant, item capture.Item) {
	b.last = at
	rec := capture.Record{At: at, Item: item}
	if j != nil {
		rec.Job = j.name
	}
	b.deliver(j, rec)
}

// stamp returns the instant of the next record: the clock's, unless that would
// not be later than everything before, or would fall on a tick.
func (b *Bus) stamp() capture.Instant {
	at := max(b.clock.Now(), b.last+1)
	if at%grid == 0 {
		at++
	}
	return at
}

func (b *Bus) deliver(j *job, rec capture.Record) {
	for _, a := range b.sinks {
		if a.job == nil || a.job == j {
			a.sink.Consume(rec)
		}
	}
}
