package poll_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"steadyrail/capture"
	"steadyrail/capture/poll"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var (
	errGone    = errors.New("port is gone")
	errTimeout = errors.New("no answer in time")
	errGarbled = errors.New("cannot be read")
	errOther   = errors.New("wrong instrument")
	errRefused = errors.New("-113, undefined header")
)

func classify(err error) capture.Flags {
	for e, f := range map[error]capture.Flags{
		errGone: capture.Disconnected, errTimeout: capture.TimedOut, errGarbled: capture.Garbled,
		errOther: capture.Mismatch, errRefused: capture.Refused,
	} {
		if errors.Is(err, e) {
			return f
		}
	}
	return 0
}

// fake is an instrument in memory. Its fields may be changed between
// exchanges by any goroutine that holds mu.
type fake struct {
	mu       sync.Mutex
	info     capture.InstrumentInfo
	takes    time.Duration // an exchange
	connects time.Duration // a connection
	fail     error         // of Measure
	away     error         // of Connect
	refuse   error         // of Select
	function capture.ChannelID
	log      []string
	stuck    bool // Measure waits for its context
}

func (f *fake) Info() capture.InstrumentInfo {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.info
}

func (f *fake) note(format string, args ...any) {
	f.log = append(f.log, fmt.Sprintf(format, args...))
}

func rest(ctx context.Context, d time.Duration) error {
	select {
	case <-time.After(d):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (f *fake) Connect(ctx context.Context) error {
	f.mu.Lock()
	f.note("connect")
	d := f.connects
	f.mu.Unlock()
	if err := rest(ctx, d); err != nil {
		return err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.away
}

func (f *fake) Select(_ context.Context, ch capture.ChannelID) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.note("select %s", ch)
	if f.refuse != nil {
		return f.refuse
	}
	f.function = ch
	return nil
}

func (f *fake) Measure(ctx context.Context, ch capture.ChannelID) (capture.Reading, error) {
	f.mu.Lock()
	d, stuck := f.takes, f.stuck
	f.mu.Unlock()
	if stuck {
		<-ctx.Done()
		return capture.Reading{}, ctx.Err()
	}
	if err := rest(ctx, d); err != nil {
		return capture.Reading{}, err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.fail != nil {
		return capture.Reading{}, f.fail
	}
	if f.function != "" && f.function != ch {
		return capture.Reading{}, fmt.Errorf("asked for %s while set to %s", ch, f.function)
	}
	return capture.Reading{Value: 5.012, Text: "5.0120E+00"}, nil
}

func (f *fake) Do(ctx context.Context, act capture.Act) (string, error) {
	if err := rest(ctx, 5*time.Millisecond); err != nil {
		return "", err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.note("do %s", act.Text)
	return "output is " + act.Text, nil
}

func (f *fake) Close() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.note("close")
	return nil
}

func (f *fake) set(change func(*fake)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	change(f)
}

func (f *fake) said() []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]string(nil), f.log...)
}

type filed struct {
	at    capture.Instant
	begun capture.Instant
	r     capture.Reading
}

// sink keeps readings and acts.
type sink struct {
	clock  capture.Clock
	jobs   []string // what every instrument serves
	mu     sync.Mutex
	serves map[string]string // and besides by name
	got    []filed
	acts   []string
}

func (s *sink) ReadBegun(r capture.Reading, begun capture.Instant) capture.Instant {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.clock.Now()
	s.got = append(s.got, filed{now, begun, r})
	return now
}

func (s *sink) Post(job string, item capture.Item) (capture.Instant, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	a := item.(capture.Act)
	s.acts = append(s.acts, fmt.Sprintf("%s: %s %s %s", job, a.Subject, a.Verb, a.Text))
	return s.clock.Now(), nil
}

func (s *sink) Serves(name string) []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if also := s.serves[name]; also != "" {
		return append(slices.Clone(s.jobs), also)
	}
	return s.jobs
}

func (s *sink) serve(by map[string]string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.serves = by
}

func (s *sink) of(ch capture.ChannelID) (out []filed) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, f := range s.got {
		if f.r.Channel == ch {
			out = append(out, f)
		}
	}
	return out
}

func (s *sink) outcomes(ch capture.ChannelID) map[string]int {
	out := map[string]int{}
	for _, f := range s.of(ch) {
		out[f.r.Flags.Outcome()]++
	}
	return out
}

func (s *sink) posted() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]string(nil), s.acts...)
}

func meter(name string, every time.Duration) *fake {
	return &fake{takes: 20 * time.Millisecond, connects: 50 * time.Millisecond, info: capture.InstrumentInfo{
		Name: name, Identity: capture.Identity{Maker: "Alderbrook", Model: "multimeter", Serial: "0001" + name},
		Channels: []capture.ChannelInfo{
			{ID: capture.ChannelID(name + "/volts"), Quantity: capture.DCVoltage, Every: every, Aperture: 20 * time.Millisecond, Group: "input"},
			{ID: capture.ChannelID(name + "/ohms"), Quantity: capture.Resistance, Every: every, Group: "input"},
		},
	}}
}

func supply() *fake {
	return &fake{takes: 5 * time.Millisecond, info: capture.InstrumentInfo{
		Name: "supply", Acts: []string{"output"},
		Channels: []capture.ChannelInfo{
			{ID: "supply/volts", Quantity: capture.DCVoltage, Every: 500 * time.Millisecond},
			{ID: "supply/amperes", Quantity: capture.DCCurrent, Every: 500 * time.Millisecond},
		},
	}}
}

// run starts a loop in the test's bubble; stop ends it and waits.
func run(t *testing.T, opts poll.Options, jobs []string, in ...*fake) (l *poll.Loop, s *sink, stop func()) {
	t.Helper()
	clock := capture.NewWallClock()
	s = &sink{clock: clock, jobs: jobs}
	var list []poll.Instrument
	for _, f := range in {
		list = append(list, f)
	}
	if opts.Classify == nil {
		opts.Classify = classify
	}
	l = poll.New("tcp:127.0.0.1:5025", list, clock, s, opts)
	ctx, cancel := context.WithCancel(t.Context())
	var wg sync.WaitGroup
	wg.Go(func() {
		if err := l.Run(ctx); err != nil {
			t.Error(err)
		}
	})
	return l, s, func() { cancel(); wg.Wait() }
}
