package comparison

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/bus"
	"steadyrail/capture/job"
	"steadyrail/capture/live"
	"steadyrail/capture/store"
	"steadyrail/rules"
)

// loadRails and loadPerRail make 8000 readings a second.
const (
	loadRails   = 16
	loadPerRail = 500
	loadStep    = 2 * time.Millisecond // in which each rail is read once
)

// BenchmarkReadingToAlarm measures the way from a reading that has been taken
// to the alarm that the engine raises, inside the daemon, while 8000 readings a
// second go through it in wall time: the bus, the job's file with its commits,
// the book, the live table and the engine with every rule that follows from the
// sixteen rails. One op is one alarm; between two of them lie 320 readings. The
// baseline beside it, "bare", is the engine alone on the same reading.
//
// Target: p99 at most 2 ms.
func BenchmarkReadingToAlarm(b *testing.B) {
	b.Run("house", func(b *testing.B) {
		l := newLoad(b)
		l.bus = bus.New(capture.NewWallClock())
		workspace, err := store.OpenWorkspace(filepath.Join(b.TempDir(), "bench"), store.Options{})
		l.must(err)
		b.Cleanup(func() { l.must(workspace.Close()) })
		file, err := workspace.Create(l.sheet)
		l.must(err)
		b.Cleanup(func() { l.must(file.Close(context.Background())) })
		l.bus.Attach("", live.New("east", false, nil))
		l.bus.Attach(jobID, file)
		l.bus.Attach(jobID, new(job.Book))
		l.bus.Attach(jobID, l)
		l.post(l.opening()...)
		l.run(b)
	})
	b.Run("bare", func(b *testing.B) {
		l := newLoad(b)
		l.bus = bus.New(capture.NewWallClock())
		l.bus.Attach(jobID, l)
		l.post(l.opening()...)
		l.run(b)
	})
}

// load is a bench of sixteen rails that are read as fast as no bench is.
type load struct {
	tb     testing.TB
	bus    *bus.Bus
	sheet  capture.Sheet
	roster capture.Roster
	engine *rules.Engine
	raised time.Time // when the last collapse was raised
}

func newLoad(tb testing.TB) *load {
	l := &load{tb: tb, engine: rules.New("")}
	l.sheet = capture.Sheet{Job: jobID, Bench: "east", Technician: "R. Hale"}
	for i := range loadRails {
		rails, err := capture.ParseRails(fmt.Sprintf("+5 2%% number %d", i))
		l.must(err)
		l.sheet.Rails = append(l.sheet.Rails, rails[0])
		l.roster.Instruments = append(l.roster.Instruments, capture.InstrumentInfo{Name: fmt.Sprintf("dmm%d", i), Channels: []capture.ChannelInfo{{
			ID: channelOf(i), Quantity: capture.DCVoltage, Every: loadStep, Aperture: time.Millisecond,
			Accuracy: []capture.Accuracy{{Range: 10, Resolution: 1e-5, OfReading: 0.00015, OfRange: 0.00002}},
		}}})
	}
	return l
}

func channelOf(i int) capture.ChannelID { return capture.ChannelID(fmt.Sprintf("dmm%d/volts", i)) }

func (l *load) must(err error) {
	l.tb.Helper()
	if err != nil {
		l.tb.Fatal(err)
	}
}

func (l *load) post(items ...capture.Item) {
	_, err := l.bus.PostAll(jobID, items...)
	l.must(err)
}

// opening opens the job, clips every channel to its rail and starts the soak.
func (l *load) opening() []capture.Item {
	set := capture.RuleSet{Rules: rules.Implied(l.sheet, l.roster), Engine: rules.Version}
	var ids []capture.ChannelID
	for i := range loadRails {
		ids = append(ids, channelOf(i))
	}
	items := job.OpenItems(l.sheet, l.roster, set, ids, "R. Hale")
	for i, r := range l.sheet.Rails {
		items = append(items, capture.Placement{Channel: ids[i], Rail: r.Name, Point: "TP5", Return: "0 V", Hold: capture.Clipped})
	}
	return append(items, capture.Act{Verb: capture.ActStage, Stage: capture.Soak})
}

// Consume is the engine's place on the bus.
func (l *load) Consume(rec capture.Record) {
	for _, t := range l.engine.Consume(rec).Transitions {
		if t.Kind == "collapse" && t.To == capture.Active {
			l.raised = time.Now()
		}
	}
}

// run reads every rail once in each step of wall time; every twentieth step
// one rail falls.
func (l *load) run(b *testing.B) {
	var delays []time.Duration
	next, late, step := time.Now(), 0, 0
	turn := func(falls int) {
		next = next.Add(loadStep)
		if wait := time.Until(next); wait > 0 {
			time.Sleep(wait) // the pace of the load, nothing waits on it
		} else if wait < -loadStep {
			late++
		}
		for i := range loadRails {
			v := 5.0012 + float64(step%7)*1e-5
			if i == falls {
				v = 3.0871
			}
			begun := time.Now()
			l.read(i, v)
			if i == falls {
				delays = append(delays, l.raised.Sub(begun))
			}
		}
		step++
	}
	for range loadPerRail {
		turn(-1) // a second in which the references fill
	}
	fallen := 0
	for b.Loop() {
		for range 19 {
			turn(-1)
		}
		l.raised = time.Time{}
		turn(fallen % loadRails)
		if l.raised.IsZero() {
			b.Fatalf("fall %d raised no alarm", fallen)
		}
		turn(-1)
		l.post(capture.Act{Verb: capture.ActReset, Subject: l.sheet.Rails[fallen%loadRails].Name})
		fallen++
	}
	reportDelays(b, delays)
	b.ReportMetric(float64(late), "late-steps")
}

func (l *load) read(i int, v float64) {
	now := capture.InstantOf(time.Now())
	l.bus.ReadBegun(capture.Reading{
		Channel: channelOf(i), Quantity: capture.DCVoltage, Value: v, Resolution: 1e-5, Range: 10,
		Measured: now.Add(-time.Millisecond), HalfWidth: 100 * time.Microsecond,
	}, now.Add(-2*time.Millisecond))
}
