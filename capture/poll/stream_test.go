package poll_test

import (
	"context"
	"math/rand/v2"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/poll"
)

// talker is a handheld that sends a frame every 400 ms by itself. Frames that
// nobody read lie in the port; the newest is returned.
type talker struct {
	*fake
	clock  capture.Clock
	frames chan capture.Instant // when the value was true: the middle of its aperture
}

const (
	talkEvery    = 400 * time.Millisecond
	talkAperture = 100 * time.Millisecond
	talkLag      = 300 * time.Millisecond
	talkTransfer = 10 * time.Millisecond
)

func newTalker(clock capture.Clock) *talker {
	f := busmate("hand")
	f.info.Channels[0] = capture.ChannelInfo{ID: "hand/volts", Quantity: capture.DCVoltage, Every: talkEvery, Aperture: talkAperture, Lag: talkLag, Streams: true}
	return &talker{fake: f, clock: clock, frames: make(chan capture.Instant, 1)}
}

// talk sends frames until ctx is done, each delayed by the system by up to 16
// ms, and leaves out those that skip says.
func (k *talker) talk(ctx context.Context, skip func(i int) bool) {
	rng := rand.New(rand.NewPCG(1, 2))
	t := time.NewTicker(talkEvery)
	defer t.Stop()
	for i := 0; ; i++ {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		}
		truth := k.clock.Now().Add(-talkAperture/2 - talkLag - talkTransfer)
		if skip(i) {
			continue
		}
		time.Sleep(time.Duration(rng.Int64N(int64(16 * time.Millisecond))))
		select {
		case <-k.frames:
		default:
		}
		k.frames <- truth
	}
}

func (k *talker) Measure(ctx context.Context, _ capture.ChannelID) (capture.Reading, error) {
	late := time.NewTimer(time.Second)
	defer late.Stop()
	select {
	case truth := <-k.frames:
		return capture.Reading{Value: float64(truth), Text: "5.012"}, nil
	case <-late.C:
		return capture.Reading{}, errTimeout
	case <-ctx.Done():
		return capture.Reading{}, ctx.Err()
	}
}

func streaming(t *testing.T, span time.Duration, skip func(int) bool, during func(l *poll.Loop), mates ...poll.Instrument) (*sink, poll.Stat) {
	clock := capture.NewWallClock()
	s := &sink{clock: clock}
	k := newTalker(clock)
	opts := poll.Options{Classify: classify, SilentAfter: 1 << 30, Deadline: 1500 * time.Millisecond, Transfer: func(in string, _ int) time.Duration {
		if in == "hand" {
			return talkTransfer
		}
		return 0
	}}
	l := poll.New("serial:/dev/ttyUSB0", append([]poll.Instrument{k}, mates...), clock, s, opts)
	ctx, cancel := context.WithCancel(t.Context())
	var wg sync.WaitGroup
	wg.Go(func() { k.talk(ctx, skip) })
	wg.Go(func() { _ = l.Run(ctx) })
	if during != nil {
		during(l)
	}
	time.Sleep(span)
	cancel()
	wg.Wait()
	return s, l.Stats()[0]
}

func none(int) bool { return false }

// Every frame is a reading, at its own pace, without a slot missed.
func TestStreamIsListenedToAllTheTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, st := streaming(t, 10*time.Minute, none, nil)
		if n := s.outcomes("hand/volts")["good"]; n < 1498 || st.Missed != 0 {
			t.Errorf("%d readings of 1500 frames, %d missed", n, st.Missed)
		}
	})
}

// A frame that did not come is a missed slot of the nominal interval: one in ten
// alone, then ten in a row, which also are time-outs.
func TestFramesThatDoNotCome(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		_, st := streaming(t, 400*time.Second, func(i int) bool { return i%10 == 5 && i < 500 || i >= 600 && i < 610 }, nil)
		if st.Missed != 60 || st.Outcomes["timeout"] != 4 {
			t.Errorf("%d missed of 60, %d time-outs of 4", st.Missed, st.Outcomes["timeout"])
		}
	})
}

// The true instant of every value lies within what its reading allows, also of
// frames that lay in the port while an act was carried out.
func TestStreamedValuesAreAsOldAsTheySay(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, _ := streaming(t, time.Second, none, func(l *poll.Loop) {
			rng := rand.New(rand.NewPCG(3, 4))
			for range 200 {
				time.Sleep(time.Duration(rng.Int64N(int64(time.Second))))
				if _, err := l.Do(t.Context(), "slow", capture.Act{Verb: capture.ActOutput, Text: "off"}); err != nil {
					t.Fatal(err)
				}
			}
		}, &slow{busmate("slow")})
		var wide int
		for _, f := range s.of("hand/volts") {
			truth := capture.Instant(f.r.Value)
			if off := max(truth.Sub(f.r.Measured), f.r.Measured.Sub(truth)); off > f.r.HalfWidth {
				t.Fatalf("measured %v from the truth, says ± %v", off, f.r.HalfWidth)
			}
			if f.begun > truth.Add(-talkAperture/2) {
				t.Fatalf("begun %v after the aperture", f.begun.Sub(truth.Add(-talkAperture/2)))
			}
			if f.r.HalfWidth > 20*time.Millisecond {
				wide++
			}
		}
		if n := len(s.of("hand/volts")); n < 200 || wide == 0 || wide > n/2 {
			t.Errorf("%d readings, %d of frames that lay there", n, wide)
		}
	})
}

// slow takes 900 ms for an act and never needs the link otherwise.
type slow struct{ *fake }

func (s *slow) Info() capture.InstrumentInfo {
	i := s.fake.Info()
	i.Channels = nil
	return i
}

func (s *slow) Do(ctx context.Context, _ capture.Act) (string, error) {
	return "done", rest(ctx, 900*time.Millisecond)
}

// A stream and a meter that is asked share a link: the meter keeps its slots but
// for waiting on a frame.
func TestStreamLetsOthersIn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		mate := busmate("dmm")
		mate.info.Channels[0].Every = time.Second
		s, st := streaming(t, 10*time.Minute, none, nil, mate)
		if n := s.outcomes("dmm/volts")["good"]; n < 590 {
			t.Errorf("%d readings of 600 beside a stream", n)
		}
		if st.Missed > 15 {
			t.Errorf("%d frames missed", st.Missed)
		}
	})
}

// A frame that came while the polling paused lies in the port when it goes on,
// and is as old as the pause may have been long.
func TestAFrameOfAPauseIsNotOfNow(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, _ := streaming(t, time.Second, none, func(l *poll.Loop) {
			rng := rand.New(rand.NewPCG(5, 6))
			for range 100 {
				time.Sleep(time.Second)
				for _, paused := range []bool{true, false} {
					if err := l.Pause(t.Context(), "hand/volts", paused); err != nil {
						t.Fatal(err)
					}
					time.Sleep(time.Duration(rng.Int64N(int64(2 * talkEvery))))
				}
			}
		})
		for _, f := range s.of("hand/volts") {
			truth := capture.Instant(f.r.Value)
			if off := truth.Sub(f.r.Measured).Abs(); f.r.HasValue() && off > f.r.HalfWidth {
				t.Fatalf("measured %v from the truth, says ± %v", off, f.r.HalfWidth)
			}
		}
	})
}
