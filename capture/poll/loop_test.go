package poll_test

import (
	"context"
	"errors"
	"math"
	"reflect"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/poll"
)

func TestEachChannelKeepsItsInterval(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, s, stop := run(t, poll.Options{Seed: 1}, nil, meter("dmm", 200*time.Millisecond), supply())
		time.Sleep(10 * time.Minute)
		stop()
		for ch, every := range map[capture.ChannelID]float64{"dmm/volts": 0.2, "supply/volts": 0.5, "supply/amperes": 0.5} {
			n := float64(len(s.of(ch)))
			if want := 600 / every; math.Abs(n-want) > want/100 {
				t.Errorf("%s: %g readings in ten minutes, want %g", ch, n, want)
			}
		}
		if n := len(s.of("dmm/ohms")); n != 0 {
			t.Errorf("%d readings of a function that is not selected", n)
		}
		for _, st := range l.Stats() {
			if st.Outcomes["good"] != uint64(len(s.of(st.Channel))) || st.Polls != st.Outcomes["good"] {
				t.Errorf("%+v against %d readings", st, len(s.of(st.Channel)))
			}
		}
	})
}

func TestReadingsCarryWhenTheyWereMeasured(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		opts := poll.Options{Transfer: func(in string, chars int) time.Duration {
			if in != "dmm" || chars != 11 {
				t.Errorf("%d characters of %s on the line", chars, in)
			}
			return time.Duration(chars) * time.Millisecond
		}}
		m := meter("dmm", time.Second)
		m.takes = 20*time.Millisecond + 11*time.Millisecond
		_, s, stop := run(t, opts, nil, m)
		time.Sleep(5 * time.Second)
		stop()
		for _, f := range s.of("dmm/volts") {
			if f.at.Sub(f.begun) != 31*time.Millisecond || f.r.Measured.Sub(f.begun) != 10*time.Millisecond || f.r.HalfWidth > 2*time.Microsecond {
				t.Fatalf("begun %v, measured %v ± %v, answered %v", f.begun, f.r.Measured, f.r.HalfWidth, f.at)
			}
			if f.r.Quantity != capture.DCVoltage {
				t.Fatal(f.r.Quantity)
			}
		}
	})
}

func TestOverloadIsCountedNotMadeUpFor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meter("dmm", 200*time.Millisecond)
		m.takes = 500 * time.Millisecond
		l, s, stop := run(t, poll.Options{}, nil, m)
		time.Sleep(100*time.Second + 50*time.Millisecond)
		stop()
		st := l.Stats()[0]
		if n := len(s.of("dmm/volts")); n < 195 || n > 200 {
			t.Errorf("%d readings, the link carries 200", n)
		}
		if all := st.Polls + st.Missed; all < 495 || all > 502 {
			t.Errorf("%d polls and %d missed are not the 500 slots", st.Polls, st.Missed)
		}
	})
}

func TestEveryOutcomeIsFlaggedAndCounted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meter("dmm", 100*time.Millisecond)
		l, s, stop := run(t, poll.Options{SilentAfter: 1000}, nil, m)
		for _, err := range []error{errTimeout, errGarbled, errRefused, nil} {
			m.set(func(f *fake) { f.fail = err })
			time.Sleep(10 * time.Second)
		}
		stop()
		got := s.outcomes("dmm/volts")
		for _, o := range []string{"timeout", "garbled", "refused", "good"} {
			if got[o] < 95 || got[o] > 105 || l.Stats()[0].Outcomes[o] != uint64(got[o]) {
				t.Errorf("%s: %d readings, counted %d", o, got[o], l.Stats()[0].Outcomes[o])
			}
		}
		for _, f := range s.of("dmm/volts") {
			if !f.r.HasValue() && (f.r.Value != 0 || f.r.Text != "") {
				t.Fatalf("a value without worth was kept: %+v", f.r)
			}
		}
	})
}

func TestStuckExchangeEndsAtItsDeadline(t *testing.T) {
	for granted, want := range map[time.Duration]time.Duration{0: poll.ActDeadline, time.Millisecond: poll.ActDeadline, 700 * time.Millisecond: 700 * time.Millisecond} {
		t.Run(granted.String(), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				p := supply()
				p.stuck = true
				l, s, stop := run(t, poll.Options{SilentAfter: 1000, Granted: granted}, nil, p)
				time.Sleep(10 * time.Second)
				stop()
				if n := s.outcomes("supply/volts")["timeout"]; n < 5 {
					t.Errorf("%d time-outs", n)
				}
				if d := l.Stats()[0].Longest; d != want {
					t.Errorf("an exchange on a link with acts took %v", d)
				}
			})
		})
	}
}

// A trip: an act waits for the exchange under way, at most
// 250 ms, whatever else goes on on the link.
func TestActWaitsAtMostOneExchange(t *testing.T) {
	for name, spoil := range map[string]func(p, other *fake){
		"while polling":                 func(*fake, *fake) {},
		"while an exchange is stuck":    func(p, _ *fake) { p.stuck = true },
		"while another one is away":     func(_, o *fake) { o.away, o.fail = errGone, errGone },
		"while another one is awaited":  func(_, o *fake) { o.away, o.fail, o.connects = errGone, errGone, time.Hour },
		"while another one is overdone": func(_, o *fake) { o.takes = 240 * time.Millisecond },
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				p, other := supply(), meter("dmm", 10*time.Millisecond)
				l, _, stop := run(t, poll.Options{SilentAfter: 1000}, nil, p, other)
				time.Sleep(time.Second)
				p.set(func(*fake) { other.set(func(*fake) { spoil(p, other) }) })
				for range 100 {
					time.Sleep(173 * time.Millisecond)
					asked := time.Now()
					say, err := l.Do(t.Context(), "supply", capture.Act{Verb: capture.ActOutput, Text: "off"})
					if err != nil || say != "output is off" {
						t.Fatal(say, err)
					}
					if d := time.Since(asked); d > poll.ActDeadline+5*time.Millisecond {
						t.Fatalf("it took %v", d)
					}
				}
				if st := l.States()[0]; st.WorstAct > poll.ActDeadline+5*time.Millisecond || st.WorstAct < 5*time.Millisecond || st.LastAct == 0 {
					t.Errorf("worst act %v, last %v", st.WorstAct, st.LastAct)
				}
				stop()
			})
		})
	}
}

func TestActIsWithdrawnOrCarriedOut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := supply()
		p.stuck = true
		l, _, stop := run(t, poll.Options{SilentAfter: 1000}, nil, p)
		time.Sleep(1100 * time.Millisecond)
		sent, withdrawn := 0, 0
		for i := range 200 {
			ctx, cancel := context.WithTimeout(t.Context(), time.Duration(i)*2*time.Millisecond)
			_, err := l.Do(ctx, "supply", capture.Act{Verb: capture.ActOutput, Text: "on"})
			cancel()
			switch {
			case err == nil:
				sent++
			case errors.Is(err, poll.ErrWithdrawn):
				withdrawn++
			default:
				t.Fatal(err)
			}
			time.Sleep(37 * time.Millisecond)
		}
		stop()
		did := strings.Count(strings.Join(p.said(), "\n"), "do on")
		if did != sent || withdrawn == 0 || sent == 0 {
			t.Errorf("%d sent, %d withdrawn, the supply saw %d", sent, withdrawn, did)
		}
		if _, err := l.Do(t.Context(), "supply", capture.Act{}); !errors.Is(err, poll.ErrStopped) {
			t.Errorf("after the end: %v", err)
		}
	})
}

func TestQuestionsToTheWrongLink(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meter("dmm", time.Second)
		m.away = errGone
		l, _, stop := run(t, poll.Options{}, nil, m)
		time.Sleep(time.Second)
		_, err := l.Do(t.Context(), "supply", capture.Act{Verb: capture.ActOutput})
		if !errors.Is(err, poll.ErrUnknown) {
			t.Error(err)
		}
		if err := l.Select(t.Context(), "thermo/celsius"); !errors.Is(err, poll.ErrUnknown) {
			t.Error(err)
		}
		if err := l.Pause(t.Context(), "thermo/celsius", true); !errors.Is(err, poll.ErrUnknown) {
			t.Error(err)
		}
		if _, err := l.Do(t.Context(), "dmm", capture.Act{Verb: capture.ActOutput}); !errors.Is(err, poll.ErrDown) {
			t.Error(err)
		}
		stop()
	})
}

func TestSelect(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meter("dmm", 200*time.Millisecond)
		l, s, stop := run(t, poll.Options{}, nil, m)
		time.Sleep(10 * time.Second)
		count := func() (volts, ohms int) { return len(s.of("dmm/volts")), len(s.of("dmm/ohms")) }
		v1, o1 := count()
		if err := l.Select(t.Context(), "dmm/ohms"); err != nil {
			t.Fatal(err)
		}
		time.Sleep(10 * time.Second)
		v2, o2 := count()
		if v1 < 45 || o1 != 0 || v2 > v1+1 || o2 < 45 {
			t.Errorf("volts %d then %d, ohms %d then %d", v1, v2, o1, o2)
		}

		// A refusal leaves the old choice, which is set up again before use.
		m.set(func(f *fake) { f.refuse = errRefused })
		if err := l.Select(t.Context(), "dmm/volts"); !errors.Is(err, errRefused) {
			t.Fatal(err)
		}
		m.set(func(f *fake) { f.refuse = nil; f.function = "unknown" })
		time.Sleep(10 * time.Second)
		if _, o3 := count(); o3 < o2+45 || s.outcomes("dmm/ohms")["good"] != o3 {
			t.Errorf("after the refusal: %v", s.outcomes("dmm/ohms"))
		}

		// A choice made while the meter is away is made when it is back.
		m.set(func(f *fake) { f.fail, f.away = errGone, errGone })
		time.Sleep(time.Second)
		if err := l.Select(t.Context(), "dmm/volts"); err != nil {
			t.Fatal(err)
		}
		m.set(func(f *fake) { f.fail, f.away = nil, nil })
		time.Sleep(10 * time.Second)
		stop()
		last := s.got[len(s.got)-1]
		if last.r.Channel != "dmm/volts" || !last.r.Good() {
			t.Errorf("the last reading is %+v", last.r)
		}
		if st := l.Stats(); !st[0].Selected || st[1].Selected {
			t.Errorf("%+v", st)
		}
	})
}

func TestPause(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, s, stop := run(t, poll.Options{}, nil, meter("dmm", 200*time.Millisecond))
		defer stop()
		time.Sleep(10 * time.Second)
		for _, paused := range []bool{true, false} {
			if err := l.Pause(t.Context(), "dmm/volts", paused); err != nil {
				t.Fatal(err)
			}
			before := len(s.of("dmm/volts"))
			time.Sleep(10 * time.Second)
			if n := len(s.of("dmm/volts")) - before; (n == 0) != paused {
				t.Errorf("paused %v: %d readings", paused, n)
			}
			if l.Stats()[0].Paused != paused {
				t.Error("the stat does not say so")
			}
		}
		if n := l.Stats()[0].Missed; n != 0 {
			t.Errorf("%d slots missed on purpose", n)
		}
	})
}

func TestLossAndReturn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meter("dmm", 200*time.Millisecond)
		var states []poll.State
		l, s, stop := run(t, poll.Options{OnState: func(st poll.State) { states = append(states, st) }}, []string{"AB-0147", "AB-0148"}, m)
		time.Sleep(5 * time.Second)
		m.set(func(f *fake) { f.fail, f.away = errGone, errGone })
		time.Sleep(60 * time.Second)
		away := s.outcomes("dmm/volts")["disconnected"]
		m.set(func(f *fake) { f.fail, f.away = nil, nil })
		time.Sleep(10 * time.Second)
		stop()

		// 0.2, 0.4, 0.8, 1, 1, ... each up to a quarter less, and 50 ms for the
		// attempt: 60 s hold between 58 and 77 attempts, and one reading for the
		// loss itself.
		if away < 58 || away > 78 {
			t.Errorf("%d flagged readings in a minute away", away)
		}
		if n := len(s.of("dmm/ohms")); n != 0 {
			t.Errorf("%d readings of the function that is not selected", n)
		}
		acts := s.posted()
		if len(acts) != 4 || acts[0] != "AB-0147: dmm link lost port is gone" || acts[1] != "AB-0148: dmm link lost port is gone" ||
			!strings.HasPrefix(acts[2], "AB-0147: dmm link back after 6") {
			t.Errorf("posted %q", acts)
		}
		if got := s.of("dmm/volts"); !got[len(got)-1].r.Good() {
			t.Error("it did not come back")
		}
		if st := l.States()[0]; st.Losses != 1 {
			t.Errorf("%+v", st)
		}
		var ups []bool
		for _, st := range states {
			if len(ups) == 0 || ups[len(ups)-1] != st.Up {
				ups = append(ups, st.Up)
			}
		}
		if !reflect.DeepEqual(ups, []bool{true, false, true, false}) {
			t.Errorf("states %v", ups)
		}
	})
}

func TestSilenceIsALoss(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meter("dmm", 200*time.Millisecond)
		_, s, stop := run(t, poll.Options{}, nil, m)
		time.Sleep(time.Second)
		m.set(func(f *fake) { f.fail = errTimeout })
		time.Sleep(5 * time.Second)
		stop()
		if n := s.outcomes("dmm/volts")["timeout"]; n < 5 {
			t.Errorf("%d time-outs", n)
		}
		acts := s.posted()
		if len(acts) == 0 || acts[0] != ": dmm link lost no readable answer 5 times running: no answer in time" {
			t.Errorf("posted %q", acts)
		}
		if !strings.Contains(strings.Join(m.said(), " "), "close connect") {
			t.Errorf("identity was not asked again: %v", m.said())
		}
	})
}

func TestAnotherInstrumentIsNoReturn(t *testing.T) {
	for name, swap := range map[string]func(*fake){
		"the driver sees it": func(f *fake) { f.away = errOther },
		"only we see it":     func(f *fake) { f.away = nil; f.info.Identity.Serial = "00777" },
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				m := meter("dmm", 200*time.Millisecond)
				own := m.info.Identity
				_, s, stop := run(t, poll.Options{}, nil, m)
				time.Sleep(time.Second)
				m.set(func(f *fake) { f.fail, f.away = errGone, errGone })
				time.Sleep(time.Second)
				before := s.outcomes("dmm/volts")["good"]
				m.set(func(f *fake) { f.fail = nil; swap(f) })
				time.Sleep(time.Minute)
				got := s.outcomes("dmm/volts")
				if got["good"] != before || got["mismatch"] < 10 {
					t.Errorf("%v, %d were good before", got, before)
				}
				if acts := s.posted(); len(acts) != 2 || !strings.Contains(acts[1], "link lost") {
					t.Errorf("posted %q", acts)
				}
				m.set(func(f *fake) { f.away, f.info.Identity = nil, own })
				time.Sleep(10 * time.Second)
				stop()
				if s.outcomes("dmm/volts")["good"] == before {
					t.Error("the right one did not come back")
				}
			})
		})
	}
}

// dropper says what happens to its link.
type dropper struct{ *fake }

func (d dropper) Drop() error     { d.set(func(f *fake) { f.note("drop") }); return nil }
func (d dropper) Resyncs() uint64 { return 3 }

func TestLossSendsNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := dropper{supply()}
		clock := capture.NewWallClock()
		s := &sink{clock: clock}
		l := poll.New("x", []poll.Instrument{p}, clock, s, poll.Options{Classify: classify})
		ctx, cancel := context.WithCancel(t.Context())
		var wg sync.WaitGroup
		wg.Go(func() { _ = l.Run(ctx) })
		time.Sleep(time.Second)
		if n := l.States()[0].Resyncs; n != 3 {
			t.Errorf("%d resyncs", n)
		}
		p.set(func(f *fake) { f.fail, f.away = errGone, errGone })
		time.Sleep(10 * time.Second)
		if said := strings.Join(p.said(), " "); strings.Contains(said, "close") || !strings.Contains(said, "connect drop connect drop") {
			t.Errorf("a loss closed the supply: %s", said)
		}
		cancel()
		wg.Wait()
		if said := p.said(); said[len(said)-1] != "close" {
			t.Errorf("the end: %v", said)
		}
	})
}

// Select, Do, Pause, Stats and States from many goroutines: run with -race.
func TestRace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, p := meter("dmm", 5*time.Millisecond), supply()
		l, _, stop := run(t, poll.Options{}, []string{"AB-0147"}, m, p)
		var wg sync.WaitGroup
		for range 8 {
			wg.Go(func() {
				for i := range 50 {
					_ = l.Select(t.Context(), []capture.ChannelID{"dmm/volts", "dmm/ohms"}[i%2])
					_, _ = l.Do(t.Context(), "supply", capture.Act{Verb: capture.ActOutput, Text: "on"})
					_ = l.Pause(t.Context(), "supply/volts", i%2 == 0)
					l.Stats()
					l.States()
					m.set(func(f *fake) { f.fail = []error{nil, errGone, errTimeout}[i%3] })
				}
			})
		}
		wg.Wait()
		stop()
	})
}

type instant struct{ fake }

func (*instant) Connect(context.Context) error { return nil }
func (*instant) Measure(context.Context, capture.ChannelID) (capture.Reading, error) {
	return capture.Reading{Value: 5.012, Text: "5.0120E+00"}, nil
}

// rushing is a clock on which something is always due.
type rushing struct {
	capture.Clock
	now capture.Instant
}

func (c *rushing) Now() capture.Instant { c.now += 5; return c.now }

type counter struct {
	left int
	done context.CancelFunc
}

func (c *counter) ReadBegun(capture.Reading, capture.Instant) capture.Instant {
	if c.left--; c.left == 0 {
		c.done()
	}
	return 0
}
func (c *counter) Post(string, capture.Item) (capture.Instant, error) { return 0, nil }
func (c *counter) Serves(string) []string                             { return nil }

// What the loop adds to an exchange, with an instrument that answers at once.
// The baseline is the bare call of the instrument.
func BenchmarkLoop(b *testing.B) {
	in := &instant{fake{info: capture.InstrumentInfo{Name: "dmm", Channels: []capture.ChannelInfo{{ID: "dmm/volts", Every: time.Microsecond}}}}}
	b.Run("bare call", func(b *testing.B) {
		b.ReportAllocs()
		var r capture.Reading
		for b.Loop() {
			r, _ = in.Measure(b.Context(), "dmm/volts")
		}
		_ = r
	})
	b.Run("loop", func(b *testing.B) {
		b.ReportAllocs()
		ctx, cancel := context.WithCancel(b.Context())
		defer cancel()
		l := poll.New("x", []poll.Instrument{in}, &rushing{Clock: capture.NewWallClock()}, &counter{left: b.N, done: cancel}, poll.Options{})
		b.ResetTimer()
		_ = l.Run(ctx)
	})
}
