package comparison

import (
	"context"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/poll"
	"steadyrail/rules/coverage"
)

// still is a meter that always reads the same, after as long as it looks.
type still struct{ info capture.InstrumentInfo }

func (s *still) Info() capture.InstrumentInfo                    { return s.info }
func (s *still) Connect(context.Context) error                   { return nil }
func (s *still) Select(context.Context, capture.ChannelID) error { return nil }
func (s *still) Do(context.Context, capture.Act) (string, error) { return "", nil }
func (s *still) Close() error                                    { return nil }
func (s *still) Measure(ctx context.Context, _ capture.ChannelID) (capture.Reading, error) {
	select {
	case <-time.After(s.info.Channels[0].Aperture):
		return capture.Reading{Value: 5, Resolution: 0.001}, nil
	case <-ctx.Done():
		return capture.Reading{}, ctx.Err()
	}
}

// watched files what the loop read in the builder, as the dossier does, and
// keeps when the meter looked.
type watched struct {
	clock   capture.Clock
	build   *coverage.Builder
	middles []capture.Instant
}

func (w *watched) ReadBegun(r capture.Reading, _ capture.Instant) capture.Instant {
	now := w.clock.Now()
	w.build.Add(now, r)
	w.middles = append(w.middles, r.Measured)
	return now
}
func (w *watched) Post(string, capture.Item) (capture.Instant, error) { return w.clock.Now(), nil }
func (w *watched) Serves(string) []string                             { return nil }

// covered returns the largest share of an aperture that a dip covers.
func covered(middles []capture.Instant, aperture time.Duration, from, to capture.Instant) (share float64) {
	for _, m := range middles {
		overlap := min(to, m.Add(aperture/2)).Sub(max(from, m.Add(-aperture/2)))
		share = max(share, overlap.Seconds()/aperture.Seconds())
	}
	return share
}

// The shortest dip that cannot have been missed follows from the gaps that the
// dithered loop really left, not from its interval: a dip of that length shows
// wherever it falls, and one 5 ms shorter hides in the longest gap. Only the
// loop, its stamps and the builder are real; no formula is used to judge.
func TestTheShortestSureDipComesFromTheRealGaps(t *testing.T) {
	const every, aperture, depth = 200 * time.Millisecond, 20 * time.Millisecond, 1.0
	synctest.Test(t, func(t *testing.T) {
		clock := capture.NewWallClock()
		begin := clock.Now()
		w := &watched{clock: clock, build: coverage.New("dmm/volts", begin, coverage.Options{Aperture: aperture, Every: every, Depth: depth})}
		meter := &still{capture.InstrumentInfo{Name: "dmm", Channels: []capture.ChannelInfo{{ID: "dmm/volts", Quantity: capture.DCVoltage, Every: every, Aperture: aperture, Group: "input"}}}}
		loop := poll.New("tcp:127.0.0.1:5025", []poll.Instrument{meter}, clock, w, poll.Options{Seed: 147, Classify: func(error) capture.Flags { return 0 }})
		ctx, cancel := context.WithCancel(t.Context())
		var wg sync.WaitGroup
		wg.Go(func() {
			if err := loop.Run(ctx); err != nil {
				t.Error(err)
			}
		})
		time.Sleep(5 * time.Minute)
		cancel()
		wg.Wait()
		got := w.build.Watch(w.middles[len(w.middles)-1])
		if got.LongestGap <= 3*every/2 || got.LongestGap > 2*every {
			t.Fatalf("longest gap %v, every %v", got.LongestGap, every)
		}
		first, last := w.middles[0], w.middles[len(w.middles)-1]
		for from := first; from.Add(got.SureDip) < last; from = from.Add(time.Millisecond) {
			if share := covered(w.near(from), aperture, from, from.Add(got.SureDip)); share*depth < coverage.DefaultThreshold-1e-3 {
				t.Fatalf("a dip of %v hides at %v: %.3f of an aperture", got.SureDip, from.Sub(first), share)
			}
		}
		shorter, hidden := got.SureDip-5*time.Millisecond, false
		for from := first; from < last; from = from.Add(time.Millisecond) {
			hidden = hidden || covered(w.near(from), aperture, from, from.Add(shorter))*depth < coverage.DefaultThreshold
		}
		if !hidden {
			t.Errorf("a dip of %v is sure to be seen too: %v is not the shortest", shorter, got.SureDip)
		}
	})
}

// near returns the middles that a dip of less than half a second could touch.
func (w *watched) near(from capture.Instant) []capture.Instant {
	i := 0
	for i < len(w.middles) && w.middles[i] < from.Add(-time.Second) {
		i++
	}
	j := i
	for j < len(w.middles) && w.middles[j] < from.Add(time.Second) {
		j++
	}
	return w.middles[i:j]
}
