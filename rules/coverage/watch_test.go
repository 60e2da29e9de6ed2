package coverage_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
)

const start = capture.Instant(1_700_000_000_000_000)

// kept is the smallest Statistics there can be.
type kept struct{ values []float64 }

func (k *kept) Add(v float64) { k.values = append(k.values, v) }
func (k *kept) Mean() (m float64) {
	for _, v := range k.values {
		m += v / float64(len(k.values))
	}
	return m
}
func (k *kept) SD() float64        { return 0.001 }
func (k *kept) Lag1() float64      { return 0.5 }
func (k *kept) Effective() float64 { return float64(len(k.values)) / 3 }

func good(v float64) capture.Reading {
	return capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: v, Resolution: 0.001}
}

func TestWatchOfASteadyPoll(t *testing.T) {
	b := coverage.New("dmm/volts", start, coverage.Options{Aperture: 20 * ms, Depth: 1, Statistics: &kept{}})
	at := start
	for i := range 3000 { // ten minutes at 200 ms
		at = at.Add(200 * ms)
		r := good(5.012)
		switch i {
		case 1000:
			r = good(4.998)
		case 2000:
			r = good(5.031)
		}
		b.Add(at, r)
	}
	w := b.Watch(at)
	if w.N != 3000 || w.Bad != 0 || w.Interval != 200*ms || w.LongestGap != 200*ms || w.GapAt != start {
		t.Errorf("%d readings, %d bad, every %s, longest %s at %s", w.N, w.Bad, w.Interval, w.LongestGap, w.GapAt)
	}
	if w.Min != 4.998 || w.MinAt != start.Add(1001*200*ms) || w.Max != 5.031 || w.MaxAt != start.Add(2001*200*ms) {
		t.Errorf("from %g at %s to %g at %s", w.Min, w.MinAt, w.Max, w.MaxAt)
	}
	if math.Abs(w.Observed-0.1) > 1e-12 { // 20 ms every 200 ms is 10 %
		t.Errorf("observed %g", w.Observed)
	}
	if w.SureDip != 188*ms || w.DipDepth != 1 {
		t.Errorf("a dip of %s to %g is certain", w.SureDip, w.DipDepth)
	}
	for i, want := range []float64{22.0 / 200, 62.0 / 200, 112.0 / 200} {
		if c := w.Chance[i]; c.Length != coverage.Lengths[i] || math.Abs(c.Seen-want) > 0.001 {
			t.Errorf("%s is seen with %g, want %g", c.Length, c.Seen, want)
		}
	}
	if w.Mean == 0 || w.SD != 0.001 || w.Lag1 != 0.5 || w.Effective != 1000 || w.Resolution != 0.001 {
		t.Errorf("%+v", w)
	}
	if w.Channel != "dmm/volts" || w.From != start || w.To != at || w.Aperture != 20*ms {
		t.Errorf("%+v", w)
	}
}

func TestWatchIsHonestAboutGaps(t *testing.T) {
	b := coverage.New("dmm/volts", start, coverage.Options{Aperture: 20 * ms, Depth: 1})
	at := start
	for i := range 100 {
		at = at.Add(200 * ms)
		r := good(5)
		if i >= 40 && i < 50 { // the lead came off for ten polls
			r = capture.Reading{Flags: capture.TimedOut}
		}
		b.Add(at, r)
	}
	w := b.Watch(at)
	if w.N != 90 || w.Bad != 10 || w.LongestGap != 2200*ms || w.GapAt != start.Add(40*200*ms) {
		t.Errorf("%d good, %d bad, longest gap %s at %s", w.N, w.Bad, w.LongestGap, w.GapAt.Sub(start))
	}
	if w.SureDip != 2188*ms || w.Interval != 200*ms || math.Abs(w.Observed-90*0.020/20) > 1e-12 {
		t.Errorf("a dip of %s is certain, every %s, observed %g", w.SureDip, w.Interval, w.Observed)
	}
	// Silence at the end counts as it grows.
	if w := b.Watch(at.Add(time.Minute)); w.LongestGap != time.Minute || w.GapAt != at {
		t.Errorf("longest gap %s", w.LongestGap)
	}
	held := good(5)
	held.Flags = capture.Held
	b.Add(at.Add(61*time.Second), held)
	if w := b.Watch(at.Add(time.Minute)); w.Bad != 11 || w.N != 90 {
		t.Errorf("an old value on the display counted: %d, %d", w.N, w.Bad)
	}
}

func TestBlindStretchTakesBackWhatWasClaimed(t *testing.T) {
	b := coverage.New("dmm/volts", start, coverage.Options{Aperture: 20 * ms, Depth: 1})
	at := start
	for range 100 {
		at = at.Add(200 * ms)
		b.Add(at, good(5))
	}
	before := b.Watch(at)
	b.Blind(start.Add(5*time.Second), start.Add(10*time.Second)) // readings dropped from the record
	w := b.Watch(at)
	if w.LongestGap != 5*time.Second || w.SureDip != 4988*ms {
		t.Errorf("longest gap %s, a dip of %s is certain", w.LongestGap, w.SureDip)
	}
	if math.Abs(w.Chance[1].Seen-0.75*before.Chance[1].Seen) > 0.01 || math.Abs(w.Observed-0.75*before.Observed) > 0.001 {
		t.Errorf("a quarter was lost: chance %g of %g, observed %g of %g", w.Chance[1].Seen, before.Chance[1].Seen, w.Observed, before.Observed)
	}
	b.Blind(start.Add(-time.Hour), start) // before the watch
	if again := b.Watch(at); again.LongestGap != w.LongestGap {
		t.Error("a gap before the watch was counted")
	}
}

func TestWatchWithoutAperture(t *testing.T) {
	b := coverage.New("dmm/volts", start, coverage.Options{})
	for i := 1; i <= 10; i++ {
		b.Add(start.Add(time.Duration(i)*time.Second), good(5))
	}
	w := b.Watch(start.Add(10 * time.Second))
	if w.Observed != 0 || w.Chance != nil || w.SureDip != time.Second || w.DipDepth != coverage.DefaultDepth {
		t.Errorf("%+v", w)
	}
}

func TestWatchOfNothing(t *testing.T) {
	b := coverage.New("dmm/volts", start, coverage.Options{Aperture: 20 * ms, Statistics: &kept{}})
	for _, w := range []capture.Watch{b.Watch(start), b.Watch(start.Add(time.Minute))} {
		if w.N != 0 || w.Observed != 0 || w.SureDip != 0 || w.LongestGap != w.To.Sub(w.From) {
			t.Errorf("%+v", w)
		}
		if _, err := json.Marshal(w); err != nil {
			t.Error(err)
		}
	}
}

// Dithered polls with losses, against what a simulation sees of single dips.
func TestWatchForetellsWhatASimulationSees(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	const aperture, depth = 20 * ms, 0.6
	b := coverage.New("dmm/volts", start, coverage.Options{Aperture: aperture, Depth: depth})
	var middles []float64 // of good readings, seconds since start
	for i := 1; i <= 4000; i++ {
		middle := time.Duration(i)*200*ms + time.Duration(r.IntN(200)-100)*ms
		rd := good(5)
		rd.Measured = start.Add(middle)
		if r.IntN(20) == 0 {
			rd.Flags = capture.Garbled
		} else {
			middles = append(middles, middle.Seconds())
		}
		b.Add(start.Add(middle+15*ms), rd)
	}
	w := b.Watch(start.Add(4000 * 200 * ms))
	for k, dip := range coverage.Lengths {
		seen, tries := 0, 20_000
		for range tries {
			from := r.Float64() * 4000 * 0.2
			to := from + dip.Seconds()
			for _, m := range near(middles, from, to) {
				overlap := math.Min(to, m+0.010) - math.Max(from, m-0.010)
				if overlap/aperture.Seconds()*depth >= coverage.DefaultThreshold {
					seen++
					break
				}
			}
		}
		got := float64(seen) / float64(tries)
		if math.Abs(got-w.Chance[k].Seen) > 0.015 {
			t.Errorf("%s: simulated %.4f, foretold %.4f", dip, got, w.Chance[k].Seen)
		}
	}
}

// near returns the middles that a dip could touch.
func near(middles []float64, from, to float64) (out []float64) {
	for i := max(0, int(from/0.2*0.9)-20); i < len(middles) && middles[i] < to+0.05; i++ {
		if middles[i] > from-0.05 {
			out = append(out, middles[i])
		}
	}
	return out
}

// Whatever comes, a watch stays within what can be.
func TestWatchStaysPossible(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := coverage.New("dmm/volts", start, coverage.Options{Aperture: 50 * ms})
		at := start
		for range rapid.IntRange(0, 60).Draw(t, "events") {
			at = at.Add(time.Duration(rapid.IntRange(0, 2000).Draw(t, "later")) * ms)
			r := good(rapid.Float64Range(-20, 20).Draw(t, "value"))
			r.Measured = at.Add(-time.Duration(rapid.IntRange(-50, 500).Draw(t, "lag")) * ms)
			switch rapid.IntRange(0, 5).Draw(t, "kind") {
			case 0:
				r.Flags = capture.TimedOut
			case 1:
				b.Blind(at.Add(-time.Duration(rapid.IntRange(0, 3000).Draw(t, "blind"))*ms), at)
			}
			b.Add(at, r)
		}
		w := b.Watch(at)
		if w.Observed < 0 || w.Observed > 1 || w.LongestGap < 0 || w.Interval < 0 || w.SureDip < 0 || w.N > 0 && w.Min > w.Max {
			t.Fatalf("%+v", w)
		}
		for _, c := range w.Chance {
			if c.Seen < 0 || c.Seen > 1 {
				t.Fatalf("%+v", w)
			}
		}
		if w.N > 1 && w.LongestGap < w.Interval-ms {
			t.Fatalf("longest gap %s, median %s", w.LongestGap, w.Interval)
		}
	})
}

type none struct{}

func (none) Add(float64)        {}
func (none) Mean() float64      { return 0 }
func (none) SD() float64        { return 0 }
func (none) Lag1() float64      { return 0 }
func (none) Effective() float64 { return 0 }

// Per reading, against a loop that only keeps minimum and maximum.
func BenchmarkBuilder(b *testing.B) {
	b.Run("baseline=min-max", func(b *testing.B) {
		low, high, at := math.Inf(1), math.Inf(-1), start
		for b.Loop() {
			at = at.Add(200 * ms)
			r := good(5)
			if r.Good() {
				low, high = math.Min(low, r.Value), math.Max(high, r.Value)
			}
		}
		_ = low + high
	})
	b.Run("watch", func(b *testing.B) {
		w, at := coverage.New("dmm/volts", start, coverage.Options{Aperture: 20 * ms, Statistics: none{}}), start
		for b.Loop() {
			at = at.Add(200 * ms)
			w.Add(at, good(5))
		}
	})
}
