package bus_test

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/bus"
)

func TestRunKeepsTicksComing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bus.New(capture.NewWallClock())
		var whole log
		b.Attach("", &whole)
		ctx, stop := context.WithCancel(t.Context())
		var wg sync.WaitGroup
		wg.Go(func() { b.Run(ctx) })
		time.Sleep(30*time.Minute + time.Millisecond)
		synctest.Wait()
		if n := len(whole.all()); n != 18_000 {
			t.Errorf("%d ticks in half an hour, want 18000", n)
		}
		stop()
		wg.Wait()
	})
}

// A standstill of three hours, or a bench that runs a thousand times faster
// than the wall: every grid point still comes, once.
func TestRunCatchesUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		clock := &handClock{now: start}
		b := bus.New(clock)
		var whole log
		b.Attach("", &whole)
		ctx, stop := context.WithCancel(t.Context())
		var wg sync.WaitGroup
		wg.Go(func() { b.Run(ctx) })
		for range 5 {
			clock.add(3 * time.Hour)
			time.Sleep(time.Second)
		}
		synctest.Wait()
		all := whole.all()
		if len(all) != 5*3*36_000 {
			t.Errorf("%d ticks in fifteen hours", len(all))
		}
		for i := 1; i < len(all); i++ {
			if all[i].At.Sub(all[i-1].At) != capture.TickGrid {
				t.Fatalf("tick %d at %v after %v", i, all[i].At, all[i-1].At)
			}
		}
		stop()
		wg.Wait()
	})
}

type funcSink func(capture.Record)

func (f funcSink) Consume(r capture.Record) { f(r) }

func TestSinkThatCallsBackIsTold(t *testing.T) {
	b := bus.New(&handClock{now: start})
	b.Attach("", funcSink(func(r capture.Record) {
		if _, ok := r.Item.(capture.Reading); ok {
			b.Read(capture.Reading{})
		}
	}))
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
		// The panic has not left the bus locked.
		if _, err := b.Post("", capture.Act{Verb: capture.ActNote}); err != nil {
			t.Error(err)
		}
	}()
	b.Read(capture.Reading{Channel: "dmm/volts"})
}

func TestDeferredPostComesRightBehind(t *testing.T) {
	b := bus.New(&handClock{now: start})
	var whole log
	b.Attach("", funcSink(func(r capture.Record) {
		if _, ok := r.Item.(capture.Reading); ok {
			b.Defer(func() { _, _ = b.Post("", capture.Act{Verb: capture.ActNote}) })
		}
	}))
	b.Attach("", &whole)
	at := b.Read(capture.Reading{Channel: "dmm/volts"})
	all := whole.all()
	if len(all) != 2 || all[0].At != at || all[1].At != at+1 {
		t.Errorf("got %v", all)
	}
}

func TestSinksAreServedInOrderUntilDetached(t *testing.T) {
	b := bus.New(&handClock{now: start})
	var got []string
	name := func(n string) funcSink { return func(capture.Record) { got = append(got, n) } }
	b.Attach("", name("store"))
	drop := b.Attach("AB-0147", name("engine"))
	b.Attach("", name("live"))
	mustPost(t, b, "AB-0147", board("AB-0147"))
	drop()
	drop()
	mustPost(t, b, "AB-0147", capture.Act{Verb: capture.ActNote})
	if s := fmt.Sprint(got); s != "[store engine live store live]" {
		t.Error(s)
	}
}

// Eight goroutines at everything at once: run with -race.
func TestRace(t *testing.T) {
	b := bus.New(capture.NewWallClock())
	var whole log
	b.Attach("", &whole)
	ctx, stop := context.WithCancel(t.Context())
	var ticking, wg sync.WaitGroup
	ticking.Go(func() { b.Run(ctx) })
	for g := range 8 {
		wg.Go(func() {
			job := fmt.Sprintf("AB-%04d", g/2)
			ch := capture.ChannelID(fmt.Sprintf("dmm%d/volts", g))
			for i := range 200 {
				drop := b.Attach(job, &log{})
				_, _ = b.Post(job, board(job))
				_, _ = b.Post(job, capture.Placement{Channel: ch, Rail: "+5 V logic"})
				b.Read(capture.Reading{Channel: ch})
				b.ReadBegun(capture.Reading{Channel: ch}, b.Read(capture.Reading{Channel: "x"}))
				b.Defer(func() { b.Gap(capture.Gap{Reason: "computer slept"}) })
				b.Serves(ch.Instrument())
				b.Where(ch)
				b.Jobs()
				if i == 150 {
					_, _ = b.Post(job, capture.Act{Verb: capture.ActClose})
					_ = b.Seed(job, bus.Past{Records: []capture.Record{{At: 1, Item: board(job)}}})
				}
				drop()
			}
		})
	}
	wg.Wait()
	stop()
	ticking.Wait()
	var before capture.Instant
	for _, r := range whole.all() {
		if r.At <= before {
			t.Fatalf("%v after %v", r.At, before)
		}
		before = r.At
	}
}

type null struct{ n int }

func (s *null) Consume(capture.Record) { s.n++ }

func BenchmarkRead(b *testing.B) {
	for _, sinks := range []int{0, 3} {
		b.Run(fmt.Sprintf("sinks=%d", sinks), func(b *testing.B) {
			q := bus.New(capture.NewWallClock())
			for range sinks {
				q.Attach("", &null{})
			}
			r := capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 5.012, Text: "5.0120E+00"}
			b.ReportAllocs()
			for b.Loop() {
				q.Read(r)
			}
		})
	}
}

func BenchmarkTick(b *testing.B) {
	clock := &handClock{now: start}
	q := bus.New(clock)
	for range 3 {
		q.Attach("", &null{})
	}
	b.ReportAllocs()
	for b.Loop() {
		clock.add(capture.TickGrid)
		bus.TickBatch(q)
	}
}
