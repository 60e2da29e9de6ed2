//go:build linux || darwin

package drivers

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/bus"
	"steadyrail/capture/poll"
	"steadyrail/drivers/sim"
)

// stepRig is how a shipped model is put before a quantity that steps.
type stepRig struct {
	at      string    // what steps
	channel string    // what is looked at
	levels  []float64 // within one range
	within  float64   // the far end's own error and noise
	pause   time.Duration
	link    stepLink
}

// stepLink plugs a far end in and returns its link.
type stepLink = func(t *testing.T, b *sim.Bench, w *stepWatch) string

// stepBaud is the speed of every line here.
const stepBaud = 9600

func ofBench(name string) stepLink {
	return func(_ *testing.T, b *sim.Bench, _ *stepWatch) string {
		return fmt.Sprintf("%s?baud=%d", b.Links()[name], stepBaud)
	}
}

func ofPair(unit int) stepLink {
	return func(t *testing.T, b *sim.Bench, _ *stepWatch) string {
		pair, err := b.NewPair(1, false)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(pair.Close)
		return fmt.Sprintf("%s?baud=%d&address=%d", pair.Link(), stepBaud, unit)
	}
}

func ofHand(form string) stepLink {
	return func(t *testing.T, b *sim.Bench, w *stepWatch) string {
		h := handheld(t, b, sim.HandheldOptions{Form: form})
		w.hand = h
		if err := h.Touch(sim.Point12, capture.Clipped); err != nil {
			t.Fatal(err)
		}
		return fmt.Sprintf("%s&baud=%d", linkOf(h), stepBaud)
	}
}

type outboard interface {
	Link() string
	Close()
}

func ofOutboard[T outboard](plug func(*sim.Bench) (T, error)) stepLink {
	return func(t *testing.T, b *sim.Bench, _ *stepWatch) string {
		far, err := plug(b)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(far.Close)
		return far.Link()
	}
}

// stepRigs has one for every shipped model.
func stepRigs() map[string]stepRig {
	atOnce, quick, slow := 90*time.Millisecond, 280*time.Millisecond, 600*time.Millisecond
	return map[string]stepRig{
		"scpi-multimeter": {sim.Point12, "volts", []float64{3, 5, 7, 9}, 0.002, quick, func(t *testing.T, b *sim.Bench, w *stepWatch) string {
			if err := b.Touch(sim.DMM, sim.Point12, capture.Clipped); err != nil {
				t.Fatal(err)
			}
			return ofBench(sim.DMM)(t, b, w)
		}},
		"scpi-supply":      {sim.SupplyVolts, "volts", []float64{5, 10, 15, 20}, 0.03, atOnce, ofBench(sim.Supply)},
		"scpi-supply-2":    {sim.Supply2Volts, "volts-1", []float64{5, 10, 15, 20}, 0.02, atOnce, ofOutboard(sim.NewSupply2)},
		"scpi-load":        {sim.LoadVolts, "volts", []float64{5, 7, 9, 11}, 0.002, atOnce, ofOutboard(sim.NewELoad)},
		"scpi-thermometer": {sim.PointRoom, "celsius", []float64{20, 30, 40, 50}, 0.5, 2 * quick, ofBench(sim.Thermo)},
		"modbus-supply":    {sim.SupplyVolts, "volts", []float64{5, 10, 15, 20}, 0.03, atOnce, ofPair(sim.UnitSupply)},
		"modbus-meter":     {sim.Point5, "volts", []float64{5, 15, 25, 35}, 0.02, 2 * quick, ofPair(sim.UnitMeter5)},
		"stream-ascii":     {sim.Point12, "volts", []float64{15, 25, 35, 45}, 0.15, slow, ofHand(sim.FormLines)},
		"segment-handheld": {sim.Point12, "volts", []float64{15, 25, 35, 45}, 0.15, slow, ofHand(sim.FormSegments)},
	}
}

// TestStepThroughEveryModel lets the measured quantity step at known instants,
// at ever other phases of the polling, and holds every reading against it: the
// value must be one that the quantity had, or a mean of what it had, within the
// window that the reading says it was measured in. So a reading whose window lies
// before a step shows the old level, one behind it the new one. The far ends take
// their apertures, lags and line times really. Nothing here depends on how fast
// the computer is.
func TestStepThroughEveryModel(t *testing.T) {
	rigs := stepRigs()
	for name := range shipped(t) {
		rig, ok := rigs[name]
		if !ok {
			t.Errorf("model %s: no step goes through it: add it to stepRigs", name)
			continue
		}
		delete(rigs, name)
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			rig.run(t, name)
		})
	}
	for name := range rigs {
		t.Errorf("there is no model %s", name)
	}
}

// steps makes a course that no reading knows beforehand.
func (rig stepRig) steps(from capture.Instant, name string) sim.Steps {
	rng := rand.New(rand.NewPCG(uint64(len(name)), uint64(rig.pause)))
	s := sim.Steps{Levels: []float64{rig.levels[0]}}
	for at, level := from, 0; at < from.Add(40*time.Second); {
		at = at.Add(rig.pause + time.Duration(rng.Int64N(int64(rig.pause))))
		level = (level + 1 + rng.IntN(len(rig.levels)-1)) % len(rig.levels)
		s.At, s.Levels = append(s.At, at), append(s.Levels, rig.levels[level])
	}
	return s
}

func (rig stepRig) run(t *testing.T, name string) {
	clock := sim.NewClock(capture.Instant(1_700_000_000_000_000), 1)
	b := sim.NewBench(clock, 1, sim.Scenario{Baud: stepBaud})
	if err := b.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(b.Close)
	steps := rig.steps(clock.Now(), name)
	if err := b.Impose(rig.at, steps); err != nil {
		t.Fatal(err)
	}
	w := &stepWatch{Bus: bus.New(clock), t: t, rig: rig, steps: steps, clock: clock, enough: make(chan struct{})}
	in, err := Open(Config{Name: "in", Model: name, Link: rig.link(t, b, w), Every: 70 * time.Millisecond}, shipped(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, ci := range in.Info().Channels {
		if ci.ID.Input() == rig.channel {
			w.info = ci
		}
	}
	loop := poll.New("steps", []poll.Instrument{in}, clock, w, poll.Options{
		Classify: Flags, Transfer: func(_ string, n int) time.Duration { return in.Transfer(n) },
	})
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- loop.Run(ctx) }()
	select {
	case <-w.enough:
	case <-time.After(25 * time.Second):
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	t.Logf("%d readings: %d within a level, %d across a step; widest window %s, least %s", w.all, w.whole, w.across, w.widest, w.least)
	if w.whole < wantWhole || w.across < wantAcross {
		t.Errorf("too few to tell: %d within a level, %d across a step", w.whole, w.across)
	}
}

// How many readings of each kind are waited for.
const (
	wantWhole  = 6
	wantAcross = 3
)

// stepWatch is the bus, with an eye on what goes through it.
type stepWatch struct {
	*bus.Bus
	t      *testing.T
	rig    stepRig
	info   capture.ChannelInfo
	steps  sim.Steps
	clock  capture.Clock
	enough chan struct{}

	mu                 sync.Mutex
	all, whole, across int
	widest, least      time.Duration
	before             capture.Instant // when the reading before was filed
	hand               *sim.Handheld   // nil: it is asked
	done               bool
}

func (w *stepWatch) ReadBegun(r capture.Reading, begun capture.Instant) capture.Instant {
	end := w.clock.Now()
	at := w.Bus.ReadBegun(r, begun)
	if r.Channel == w.info.ID && r.Good() {
		w.mu.Lock()
		defer w.mu.Unlock()
		w.look(r, begun, end)
	}
	return at
}

// delivery is what the poller grants to systems and adapters, beside a frame
// that lay there while nobody listened.
const delivery = 17 * time.Millisecond

func (w *stepWatch) look(r capture.Reading, begun, end capture.Instant) {
	from, to := r.Measured.Add(-r.HalfWidth-w.info.Aperture/2), r.Measured.Add(r.HalfWidth+w.info.Aperture/2)
	before := w.before
	w.before = end
	w.all++
	width := to.Sub(from)
	w.widest = max(w.widest, width)
	if w.least == 0 || width < w.least {
		w.least = width
	}
	if begun > from.Add(time.Microsecond*2) || to > end {
		w.t.Errorf("measured between %s and %s, begun %s, filed %s", from, to, begun, end)
	}
	if w.hand != nil {
		// A frame that this computer brought later than any adapter does was
		// measured that much earlier.
		from = from.Add(-max(0, end.Sub(w.hand.Sent())-delivery))
	}
	lo, hi, levels := math.Inf(1), math.Inf(-1), 0
	for i, level := range w.steps.Levels {
		if i > 0 && w.steps.At[i-1] > to || i < len(w.steps.At) && w.steps.At[i] <= from {
			continue
		}
		lo, hi, levels = min(lo, level), max(hi, level), levels+1
	}
	if r.Value < lo-w.rig.within || r.Value > hi+w.rig.within {
		w.t.Errorf("%g, measured between %s and %s, when it was %g to %g", r.Value, from, to, lo, hi)
	}
	// The window is not wider than what there was to know: the exchange, and the
	// aperture of a meter that measures all the time; of a stream what its frame
	// may have waited.
	limit := end.Sub(begun) + 2*time.Microsecond
	if w.info.Runs {
		limit = end.Sub(begun.Add(2*w.info.Aperture)) + 2*w.info.Aperture + 4*time.Microsecond
	}
	if w.info.Streams && before != 0 {
		limit = w.info.Aperture + delivery
		if end.Sub(before) < delivery { // it lay there
			limit += end.Sub(before)
		}
	}
	if width > limit {
		w.t.Errorf("the window is %s wide, of %s that are not known", width, limit)
	}
	if levels == 1 {
		w.whole++
	} else {
		w.across++
	}
	if !w.done && w.whole >= wantWhole && w.across >= wantAcross {
		w.done = true
		close(w.enough)
	}
}
