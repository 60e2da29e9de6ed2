//go:build unix

package comparison

import (
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/bus"
	"steadyrail/capture/poll"
	"steadyrail/drivers"
)

// What [BenchmarkSixteenLinks] polls.
const (
	sixteen   = 16
	everyLink = 2 * time.Millisecond
)

// BenchmarkSixteenLinks polls sixteen meters on pseudo-terminals at 500 readings
// a second each, through wire, scpi, poll and one bus, for as long as the
// benchmark lasts; the far ends are one process of their own. Targets over a
// minute, with -benchtime 600x: no slot missed, at most one core of this process.
// The dithered schedule lets two slots of a channel follow one another at once:
// one is missed when the next was due as well before it was asked for. So
// "steady", with slots as regular as a clock's, says what the house misses, and
// "dithered" what the draw of the slots adds. "bare" is the least loop that does
// the same with the serial library alone: what it misses, the computer took.
func BenchmarkSixteenLinks(b *testing.B) {
	b.Run("bare", bareLinks)
	b.Run("steady", func(b *testing.B) { sixteenLinks(b, true) })
	b.Run("dithered", func(b *testing.B) { sixteenLinks(b, false) })
}

// bareLinks asks each meter at every slot of a steady grid, and counts the slots
// that passed while it was busy or not woken.
func bareLinks(b *testing.B) {
	var polled, missed atomic.Uint64
	var running sync.WaitGroup
	defer running.Wait()
	var over atomic.Bool
	defer over.Store(true)
	for _, device := range startFarEnds(b, sixteen, 0) {
		ask := bareLoop(b, device)
		running.Go(func() {
			for slot := time.Now(); !over.Load(); {
				time.Sleep(time.Until(slot))
				ask(1, nil)
				polled.Add(1)
				slot = slot.Add(everyLink)
				if late := time.Since(slot) / everyLink; late > 0 {
					missed.Add(uint64(late))
					slot = slot.Add(late * everyLink)
				}
			}
		})
	}
	whileItLasts(b, func() (uint64, uint64) { return polled.Load(), missed.Load() })
}

// whileItLasts reports what was polled and missed during the benchmark, and what
// it took of the processor.
func whileItLasts(b *testing.B, counted func() (polls, missed uint64)) {
	for late := time.Now().Add(20 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		if polls, _ := counted(); polls >= 20*sixteen {
			break
		}
		if time.Now().After(late) {
			b.Fatal("the meters do not answer")
		}
	}
	polls, missed := counted()
	cpu, from := processorTime(b), time.Now()
	for b.Loop() { // one is a tick of the grid, so that -benchtime says how long it lasts
		time.Sleep(100 * time.Millisecond)
	}
	took := time.Since(from)
	spent := processorTime(b) - cpu
	allPolls, allMissed := counted()
	b.ReportMetric(float64(allPolls-polls)/took.Seconds(), "readings/s")
	b.ReportMetric(float64(allMissed-missed), "missed")
	b.ReportMetric(100*float64(allMissed-missed)/float64(allPolls-polls+allMissed-missed), "%-missed")
	b.ReportMetric(spent.Seconds()/took.Seconds(), "cores")
}

// counter is the bus with a count of what is wrong on it.
type counter struct {
	*bus.Bus
	mu    sync.Mutex
	wrong int
}

func (c *counter) ReadBegun(r capture.Reading, begun capture.Instant) capture.Instant {
	if r.Value != 5.012 {
		c.mu.Lock()
		c.wrong++
		c.mu.Unlock()
	}
	return c.Bus.ReadBegun(r, begun)
}

func sixteenLinks(b *testing.B, steady bool) {
	models, err := drivers.LoadModels("")
	if err != nil {
		b.Fatal(err)
	}
	clock := capture.NewWallClock()
	sink := &counter{Bus: bus.New(clock)}
	ctx, stop := context.WithCancel(context.Background())
	var running sync.WaitGroup
	defer running.Wait()
	defer stop()
	var loops []*poll.Loop
	for i, device := range startFarEnds(b, sixteen, 0) {
		name := fmt.Sprintf("dmm%d", i)
		in, err := drivers.Open(drivers.Config{
			Name: name, Model: "scpi-multimeter", Link: "serial:" + device + "?baud=115200", Every: everyLink,
		}, models)
		if err != nil {
			b.Fatal(err)
		}
		loop := poll.New(name, []poll.Instrument{in}, clock, sink, poll.Options{
			Classify: drivers.Flags, Seed: uint64(i), Steady: steady,
			Transfer: func(_ string, n int) time.Duration { return in.Transfer(n) },
		})
		loops = append(loops, loop)
		running.Go(func() { _ = loop.Run(ctx) })
	}
	whileItLasts(b, func() (uint64, uint64) { return counted(loops) })
	sink.mu.Lock()
	defer sink.mu.Unlock()
	if sink.wrong > 0 {
		b.Errorf("%d wrong readings", sink.wrong)
	}
}

func counted(loops []*poll.Loop) (polls, missed uint64) {
	for _, l := range loops {
		for _, s := range l.Stats() {
			polls, missed = polls+s.Polls, missed+s.Missed
		}
	}
	return polls, missed
}
