package bus_test

import (
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"steadyrail/capture"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const start = capture.Instant(1_900_000_000_000_123)

// handClock is set by hand. It may go backwards, which a real one must not.
type handClock struct {
	mu  sync.Mutex
	now capture.Instant
}

func (c *handClock) Now() capture.Instant {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *handClock) add(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

func (c *handClock) After(d time.Duration) (<-chan time.Time, func()) {
	t := time.NewTimer(d)
	return t.C, func() { t.Stop() }
}

// log is a sink that keeps everything.
type log struct {
	mu      sync.Mutex
	records []capture.Record
}

func (l *log) Consume(r capture.Record) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.records = append(l.records, r)
}

func (l *log) all() []capture.Record {
	l.mu.Lock()
	defer l.mu.Unlock()
	return append([]capture.Record(nil), l.records...)
}

// stored is what a file would hold: everything but the ticks.
func stored(records []capture.Record) (out []capture.Record) {
	for _, r := range records {
		if _, tick := r.Item.(capture.Tick); !tick {
			out = append(out, r)
		}
	}
	return out
}

// replayed makes the ticks again between stored records, and after the last
// one up to an instant.
func replayed(job string, records []capture.Record, upto capture.Instant) (out []capture.Record) {
	var before capture.Instant
	ticks := func(to capture.Instant) {
		if before == 0 {
			return
		}
		capture.Ticks(before, to, func(at capture.Instant) bool {
			out = append(out, capture.Record{At: at, Job: job, Item: capture.Tick{}})
			return true
		})
	}
	for _, r := range records {
		ticks(r.At)
		out = append(out, r)
		before = r.At
	}
	ticks(upto)
	return out
}

func board(job string) capture.Sheet {
	return capture.Sheet{Job: job, Set: "Alderbrook 88", Rails: []capture.Rail{
		{Name: "+5 V logic", Nominal: 5, Target: 5},
		{Name: "+12 V audio", Nominal: 12, Target: 12},
		{Name: "-12 V audio", Nominal: -12, Target: -12},
		{Name: "+3.3 V DSP", Nominal: 3.3, Target: 3.3},
	}}
}

func bench() capture.Roster {
	return capture.Roster{Instruments: []capture.InstrumentInfo{
		{Name: "dmm", Channels: []capture.ChannelInfo{
			{ID: "dmm/volts", Quantity: capture.DCVoltage, Group: "input"},
			{ID: "dmm/ohms", Quantity: capture.Resistance, Group: "input"},
		}},
		{Name: "thermo", Channels: []capture.ChannelInfo{{ID: "thermo/celsius", Quantity: capture.Temperature}}},
	}}
}
