package live_test

import (
	"fmt"
	"runtime"
	"sync"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// day feeds a table hours of 16 channels at one reading a second each, with the
// ticks, an alarm a minute and a probe that wanders.
func day(tab *live.Table, job string, from, hours int) {
	var ids [16]capture.ChannelID
	for c := range ids {
		ids[c] = capture.ChannelID(fmt.Sprintf("dmm%d/volts", c))
	}
	rails := []string{"+5 V logic", "+12 V audio"}
	for second := from * 3600; second < (from+hours)*3600; second++ {
		now := at(float64(second))
		for c, id := range ids {
			tab.Consume(capture.Record{At: now + capture.Instant(c+1), Job: job, Item: capture.Reading{
				Channel: id, Quantity: capture.DCVoltage, Value: 5 + float64(second%7)/1000,
			}})
		}
		for g := range capture.Instant(10) {
			tab.Consume(capture.Record{At: now + g*100_000 + 50, Item: capture.Tick{}})
		}
		if second%60 == 0 {
			for _, to := range []capture.AlarmState{capture.Active, capture.Returned, capture.Normal} {
				tab.SetTransition(job, capture.Transition{Alarm: fmt.Sprint(second), To: to})
			}
			tab.SetVerdicts(job, []capture.Verdict{{Rule: "band +5 V logic", Rail: "+5 V logic"}})
		}
		if second%3600 == 0 {
			tab.Consume(capture.Record{At: now + 60, Job: job, Item: on(ids[second/3600%16], rails[second/7200%2])})
		}
	}
}

func heap() int {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int(m.HeapAlloc)
}

// 16 channels, 20 browsers, one of them stopped, 24 hours, heap
// flat.
func TestADayLeavesTheHeapFlat(t *testing.T) {
	s := opened(t)
	stop := make(chan struct{})
	var wg sync.WaitGroup
	for i := range 20 {
		wake, end := s.tab.Subscribe()
		defer end()
		if i == 0 {
			continue // subscribed, and never looks
		}
		wg.Go(func() {
			for {
				select {
				case <-wake:
					s.tab.Snapshot()
					select { // a browser is sent four a second, not all there are
					case <-time.After(250 * time.Millisecond):
					case <-stop:
						return
					}
				case <-stop:
					return
				}
			}
		})
	}
	day(s.tab, s.job, 0, 2)
	before := heap()
	day(s.tab, s.job, 2, 22)
	after := heap()
	close(stop)
	wg.Wait()
	t.Logf("%d kB after two hours, %d kB after a day", before>>10, after>>10)
	// Twenty wakers may hold a snapshot each at the moment of measuring.
	if after > before+4<<20 {
		t.Errorf("the heap grew from %d to %d kB", before>>10, after>>10)
	}
	if n := s.view(); len(n.Rails[0].Trace) != 120 {
		t.Errorf("%d buckets", len(n.Rails[0].Trace))
	}
}

// Eight writers and eight readers: run with -race.
func TestRace(t *testing.T) {
	s := full(t)
	var wg sync.WaitGroup
	for g := range 8 {
		wg.Go(func() {
			for i := range 300 {
				n := float64(10 + i)
				s.volts(n, 5)
				s.put(n, on("dmm/volts", []string{"+5 V logic", "+12 V audio"}[i%2]))
				s.put(n, capture.Placement{Channel: "dmm/volts", Rail: "+5 V logic", Corrects: at(n)})
				s.put(n, capture.Act{Verb: capture.ActSoak, Text: []string{"start", "stop"}[i%2]})
				s.tab.SetTransition(s.job, capture.Transition{Alarm: fmt.Sprint(i % 3), To: capture.AlarmState(i % 6)})
				s.tab.SetVerdicts(s.job, []capture.Verdict{{Rule: fmt.Sprint(g), Rail: "+5 V logic"}})
				s.tab.SetInstrument(live.InstrumentView{Info: bench().Instruments[i%3]})
				s.tab.SetChannel("dmm/volts", i%2 == 0, n)
				s.tab.SetNotifiers([]live.NotifierView{{Name: "webhook"}})
				s.tab.SetSpeed(n)
				if i%100 == 99 {
					s.put(n, capture.Act{Verb: capture.ActClose}, board(s.job))
				}
			}
		})
		wg.Go(func() {
			wake, stop := s.tab.Subscribe()
			defer stop()
			for range 100 {
				snap := s.tab.Snapshot()
				for i := range snap.Jobs { // the copy is ours: scribble on it
					for k := range snap.Jobs[i].Rails {
						snap.Jobs[i].Rails[k].Trace = append(snap.Jobs[i].Rails[k].Trace[:0], capture.Bucket{})
						if v := snap.Jobs[i].Rails[k].Volts; v != nil {
							v.At++
						}
					}
					for k := range snap.Jobs[i].Entries {
						snap.Jobs[i].Entries[k].Text = ""
					}
				}
				select {
				case <-wake:
				default:
				}
			}
		})
	}
	wg.Wait()
}

func BenchmarkConsume(b *testing.B) {
	s := opened(b)
	r := capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 5.012}
	now := at(1)
	b.ReportAllocs()
	for b.Loop() {
		now += 50_000
		s.tab.Consume(capture.Record{At: now, Job: s.job, Item: r})
	}
}

func BenchmarkSnapshot(b *testing.B) {
	s := full(b)
	day(s.tab, s.job, 0, 1)
	b.Run("same state", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			s.tab.Snapshot()
		}
	})
	b.Run("changed state", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			s.tab.SetSpeed(1)
			s.tab.Snapshot()
		}
	})
}
