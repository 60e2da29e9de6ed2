package poll_test

import (
	"context"
	"errors"
	"reflect"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/poll"
)

// After its input was switched a channel has no readings until it has settled,
// and slots that pass meanwhile were not missed.
func TestNothingCountsBeforeTheInputHasSettled(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const settle = 700 * time.Millisecond
		m := meter("dmm", 200*time.Millisecond)
		m.info.Channels[0].Settle, m.info.Channels[1].Settle = settle, settle
		l, s, stop := run(t, poll.Options{}, nil, m)
		time.Sleep(5 * time.Second)
		for range 20 {
			for _, ch := range []capture.ChannelID{"dmm/ohms", "dmm/volts"} {
				before := len(s.of(ch))
				if err := l.Select(t.Context(), ch); err != nil {
					t.Fatal(err)
				}
				switched := capture.InstantOf(time.Now())
				time.Sleep(3 * time.Second)
				got := s.of(ch)[before:]
				if len(got) < 9 || got[0].begun < switched.Add(settle) {
					t.Fatalf("%s: %d readings, the first begun %v after the switch", ch, len(got), got[0].begun.Sub(switched))
				}
			}
		}
		stop()
		for _, st := range l.Stats() {
			if st.Missed != 0 {
				t.Errorf("%s: %d slots missed on purpose", st.Channel, st.Missed)
			}
		}
	})
}

// ranger is a meter that can hold its range.
type ranger struct {
	*fake
	mu   sync.Mutex
	sent []float64
	fail error
}

func (r *ranger) FixRange(_ context.Context, ch capture.ChannelID, atLeast float64) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.sent = append(r.sent, atLeast)
	return r.fail
}

func (r *ranger) said() []float64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return append([]float64(nil), r.sent...)
}

// A held range is set once, again after the link was lost or the function was
// another, and let go when nobody wants it.
func TestRangeIsHeldThroughLossAndFunctions(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := &ranger{fake: meter("dmm", 200*time.Millisecond)}
		m.info.Channels[0].FixRange = true
		clock := capture.NewWallClock()
		s := &sink{clock: clock}
		l := poll.New("tcp:127.0.0.1:5025", []poll.Instrument{m}, clock, s, poll.Options{Classify: classify})
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- l.Run(ctx) }()
		time.Sleep(time.Second)
		step := func(what string, do func() error, want ...float64) {
			t.Helper()
			if err := do(); err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			time.Sleep(3 * time.Second)
			if got := m.said(); !reflect.DeepEqual(got, want) {
				t.Fatalf("%s: sent %v, want %v", what, got, want)
			}
		}
		fix := func(v float64) func() error { return func() error { return l.FixRange(ctx, "dmm/volts", v) } }
		step("never asked for, let go", fix(0))
		step("held", fix(6), 6)
		step("held again", fix(6), 6)
		step("another function and back", func() error {
			if err := l.Select(ctx, "dmm/ohms"); err != nil {
				return err
			}
			return l.Select(ctx, "dmm/volts")
		}, 6, 6)
		step("lost and back", func() error {
			m.set(func(f *fake) { f.fail, f.away = errGone, errGone })
			time.Sleep(time.Second)
			m.set(func(f *fake) { f.fail, f.away = nil, nil })
			return nil
		}, 6, 6, 6)
		step("let go", fix(0), 6, 6, 6, 0)
		if err := l.FixRange(ctx, "dmm/ohms", 10); !errors.Is(err, poll.ErrNoRange) {
			t.Errorf("a channel that cannot: %v", err)
		}
		m.fail = errRefused
		if err := l.FixRange(ctx, "dmm/volts", 6); !errors.Is(err, errRefused) {
			t.Errorf("a refusal: %v", err)
		}
		before := len(s.of("dmm/volts"))
		time.Sleep(3 * time.Second)
		if n := len(s.of("dmm/volts")) - before; n < 10 {
			t.Errorf("%d readings after a refusal", n)
		}
		cancel()
		if err := <-done; err != nil {
			t.Fatal(err)
		}
	})
}

// doubtful is a sink that keeps what it is told of doubts.
type doubtful struct {
	*sink
	mu    sync.Mutex
	doubt map[string]bool
}

func (d *doubtful) Doubt(instrument string, yes bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.doubt[instrument] = yes
}

func (d *doubtful) of(name string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.doubt[name]
}

// Who is known by its socket alone is in doubt after each connection, until it
// is confirmed for this very connection.
func TestDoubtComesWithEachConnection(t *testing.T) {
	for source, want := range map[string]bool{"idn": false, "adapter": false, "path": true, "": true} {
		t.Run("known by "+source, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				m := meter("dmm", 200*time.Millisecond)
				m.info.Identity.Source = source
				clock := capture.NewWallClock()
				s := &doubtful{sink: &sink{clock: clock, jobs: []string{"AB-0147"}}, doubt: map[string]bool{}}
				l := poll.New("serial:/dev/ttyUSB0", []poll.Instrument{m}, clock, s, poll.Options{Classify: classify})
				ctx, cancel := context.WithCancel(t.Context())
				done := make(chan error)
				go func() { done <- l.Run(ctx) }()
				time.Sleep(time.Second)
				is := func(what string, want bool) {
					t.Helper()
					if st := l.States()[0]; s.of("dmm") != want || st.Doubtful != want || (st.Problem != "") != want {
						t.Fatalf("%s: in doubt %v, %+v", what, s.of("dmm"), st)
					}
				}
				recorded := 0
				record := func() error { recorded++; return nil }
				is("connected", want)
				since := l.States()[0].Since
				if err := l.Confirm(ctx, "dmm", since, record); err != nil {
					t.Fatal(err)
				}
				is("confirmed", false)
				m.set(func(f *fake) { f.fail, f.away = errGone, errGone })
				time.Sleep(time.Second)
				if err := l.Confirm(ctx, "dmm", since, record); !errors.Is(err, poll.ErrDown) {
					t.Errorf("away: %v", err)
				}
				m.set(func(f *fake) { f.fail, f.away = nil, nil })
				time.Sleep(3 * time.Second)
				is("connected again", want)
				if err := l.Confirm(ctx, "dmm", since, record); !errors.Is(err, poll.ErrReplugged) {
					t.Errorf("a touch of before: %v", err)
				}
				is("still", want)
				if err := l.Confirm(ctx, "dmm", l.States()[0].Since, func() error { return errGone }); !errors.Is(err, errGone) {
					t.Errorf("what cannot be recorded: %v", err)
				}
				is("still", want)
				if recorded != 1 {
					t.Errorf("recorded %d times", recorded)
				}
				cancel()
				if err := <-done; err != nil {
					t.Fatal(err)
				}
			})
		})
	}
}
