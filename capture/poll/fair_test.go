package poll_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/poll"
)

// busmate is a meter on a shared link whose answer time-out is patience.
func busmate(name string) *fake {
	f := meter(name, 200*time.Millisecond)
	f.info.Channels = f.info.Channels[:1]
	f.info.Channels[0].Group = ""
	f.takes, f.connects = 10*time.Millisecond, 20*time.Millisecond
	return f
}

// mute is a unit that never answers: an exchange, or an attempt to connect, ends
// with its answer time-out.
type mute struct {
	*fake
	patience time.Duration
	deaf     bool // also to attempts to connect
	attempts []time.Time
}

func (m *mute) Measure(ctx context.Context, _ capture.ChannelID) (capture.Reading, error) {
	if err := rest(ctx, m.patience); err != nil {
		return capture.Reading{}, err
	}
	return capture.Reading{}, errTimeout
}

func (m *mute) Connect(ctx context.Context) error {
	m.mu.Lock()
	m.attempts = append(m.attempts, time.Now())
	m.mu.Unlock()
	if !m.deaf {
		return nil
	}
	for range 3 { // it asks three times, if it may
		if err := rest(ctx, m.patience); err != nil {
			return err
		}
	}
	return errTimeout
}

// One unit of four that never answers takes at most every second stretch of the
// link, its time-out long: the other three keep half their slots at the least
// while it is given its chances, nine in ten once it counts as lost, and the
// longest they wait is one time-out, their own exchanges and a dither.
func TestOneMuteUnitDoesNotStarveTheOthers(t *testing.T) {
	const patience = 1500 * time.Millisecond
	for _, c := range []struct {
		name        string
		deaf        bool
		silentAfter int
		share       float64
	}{
		{"it connects and never answers", false, 1 << 30, 0.45},
		{"it does not even connect", true, 0, 0.70},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				dead := &mute{fake: busmate("dead"), patience: patience, deaf: c.deaf}
				live := []*fake{busmate("one"), busmate("two"), busmate("three")}
				clock := capture.NewWallClock()
				s := &sink{clock: clock}
				opts := poll.Options{Classify: classify, SilentAfter: c.silentAfter, Patience: func(string) time.Duration { return patience }}
				l := poll.New("bus", []poll.Instrument{live[0], dead, live[1], live[2]}, clock, s, opts)
				ctx, cancel := context.WithCancel(t.Context())
				done := make(chan error)
				go func() { done <- l.Run(ctx) }()
				const span = 10 * time.Minute
				time.Sleep(span)
				cancel()
				if err := <-done; err != nil {
					t.Fatal(err)
				}
				for _, f := range live {
					ch := f.info.Channels[0].ID
					got := s.of(ch)
					share := float64(len(got)) / (span.Seconds() / 0.2)
					var longest time.Duration
					for i := 1; i < len(got); i++ {
						longest = max(longest, got[i].at.Sub(got[i-1].at))
					}
					t.Logf("%s: %.0f %% of its slots, longest wait %v", ch, 100*share, longest)
					if bound := patience + 400*time.Millisecond + 3*10*time.Millisecond; share < c.share || longest > bound {
						t.Errorf("%s: %.0f %% of its slots, at least %.0f %%; waited %v, at most %v", ch, 100*share, 100*c.share, longest, bound)
					}
				}
				for i := 2; c.deaf && i < len(dead.attempts); i++ {
					if gap := dead.attempts[i].Sub(dead.attempts[i-1]); gap < 3750*time.Millisecond {
						t.Fatalf("attempts %v apart on a link that others use", gap)
					}
				}
			})
		})
	}
}

// plug is a port that comes and goes. Without it an attempt fails at once.
type plug struct {
	*fake
	there bool
}

func (p *plug) Connect(ctx context.Context) error {
	p.mu.Lock()
	there, d := p.there, p.connects
	p.mu.Unlock()
	if !there {
		return errGone
	}
	return rest(ctx, d)
}

func (p *plug) Measure(ctx context.Context, ch capture.ChannelID) (capture.Reading, error) {
	p.mu.Lock()
	there := p.there
	p.mu.Unlock()
	if !there {
		return capture.Reading{}, errGone
	}
	return p.fake.Measure(ctx, ch)
}

// An instrument reads again within two seconds of its port being back, however
// long it was away: attempts that fail at once are repeated every second, and
// this one takes half a second to connect. The gap is recorded with its bounds.
func TestBackWithinTwoSeconds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := &plug{fake: busmate("dmm"), there: true}
		p.connects = 500 * time.Millisecond
		clock := capture.NewWallClock()
		s := &sink{clock: clock, jobs: []string{"AB-0147"}}
		l := poll.New("serial:/dev/ttyUSB0", []poll.Instrument{p}, clock, s, poll.Options{Classify: classify, Seed: 7})
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- l.Run(ctx) }()
		rng := rand.New(rand.NewPCG(88, 1))
		var worst time.Duration
		good := func() uint64 { return l.Stats()[0].Outcomes["good"] }
		for range 300 {
			time.Sleep(time.Second + time.Duration(rng.Int64N(int64(time.Second))))
			p.set(func(*fake) { p.there = false })
			away := time.Duration(rng.ExpFloat64() * float64(10*time.Second))
			time.Sleep(300*time.Millisecond + away)
			before := good()
			p.set(func(*fake) { p.there = true })
			back := time.Now()
			for good() == before {
				time.Sleep(10 * time.Millisecond)
			}
			worst = max(worst, time.Since(back))
		}
		cancel()
		if err := <-done; err != nil {
			t.Fatal(err)
		}
		t.Logf("longest: %v", worst)
		if worst > 2*time.Second {
			t.Errorf("%v after its port was back", worst)
		}
		var lost, again int
		for _, a := range s.posted() {
			var d, nothing float64
			if n, _ := fmt.Sscanf(a, "AB-0147: dmm link back after %f s; nothing was read for %f s", &d, &nothing); n == 2 {
				if again++; nothing < d || nothing > d+0.5 {
					t.Fatalf("the gap has no bounds: %s", a)
				}
			} else {
				lost++
			}
		}
		if lost != 300 || again != 300 {
			t.Errorf("%d lost, %d back", lost, again)
		}
	})
}
