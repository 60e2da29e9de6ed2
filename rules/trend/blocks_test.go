package trend_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/rules/trend"
)

const begin = capture.Instant(1_700_000_000_000_000)

// naiveBlocks cuts a whole series into medians at once, but for the last block,
// which may not be full.
func naiveBlocks(points []trend.Point, width time.Duration) (medians []float64) {
	last := int64(-1)
	var in []float64
	for _, p := range points {
		nr := int64(p.At.Sub(points[0].At) / width)
		if nr != last && len(in) > 0 {
			medians, in = append(medians, trend.Median(in)), nil
		}
		in, last = append(in, p.V), nr
	}
	return medians
}

// As long as nothing was merged, blocks are the medians of the definition;
// however long the stream, they stay few and cover it.
func TestBlocksAgreeWithTheDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const width, most = 10 * time.Second, 8
		b := trend.NewBlocks(width, most)
		var all []trend.Point
		at := begin
		for range rapid.IntRange(1, 120).Draw(t, "readings") {
			at = at.Add(time.Duration(rapid.IntRange(0, 9000).Draw(t, "later")) * time.Millisecond)
			v := rapid.Float64Range(-5, 5).Draw(t, "value")
			if !b.Add(at, v) {
				t.Fatal("refused")
			}
			all = append(all, trend.Point{At: at, V: v})
		}
		points := b.AppendPoints(nil)
		if len(points) != b.Len() || b.Len() > most || b.N() != len(all) || b.Span() != at.Sub(all[0].At) {
			t.Fatalf("%d points, %d blocks of %d readings over %s", len(points), b.Len(), b.N(), b.Span())
		}
		for i := 1; i < len(points); i++ {
			if points[i].At <= points[i-1].At {
				t.Fatal("not in order of time")
			}
		}
		if b.Width() == width {
			want := naiveBlocks(all, width)
			for i, p := range points {
				if p.V != want[i] {
					t.Fatalf("block %d: %g, want %g", i, p.V, want[i])
				}
			}
		}
	})
}

// Merged blocks are the means of the medians of their parts, by readings.
func TestBlocksMerge(t *testing.T) {
	b := trend.NewBlocks(time.Second, 4)
	for i, v := range []float64{1, 1, 4, 2, 3, 10, 12, 20, 0} { // two a second, but one alone in the second second
		at := begin.Add([]time.Duration{0, 500, 1000, 2000, 2500, 3000, 3500, 4000, 8000}[i] * time.Millisecond)
		b.Add(at, v)
	}
	// Seconds 0 to 3 were 1, 4, 2.5, 11; merged at 4 s: (1·2 + 4)/3 = 2 and
	// (2.5·2 + 11·2)/4 = 6.75; merged again at 8 s, seven readings; from 4 to 8 s
	// 20 alone.
	points := b.AppendPoints(nil)
	want := []float64{(2*3 + 6.75*4) / 7, 20}
	if b.Width() != 4*time.Second || len(points) != 2 || math.Abs(points[0].V-want[0]) > 1e-12 || points[1].V != want[1] {
		t.Errorf("%v in blocks of %s, want %v", points, b.Width(), want)
	}
	if points[1].At != begin.Add(4*time.Second) || points[0].At != begin.Add(12500*time.Millisecond/7) {
		t.Errorf("at %s and %s", points[0].At.Sub(begin), points[1].At.Sub(begin))
	}
	if b.Add(begin, 1) || b.Add(begin.Add(9*time.Second), math.NaN()) || b.Add(begin.Add(9*time.Second), math.Inf(1)) || b.N() != 9 {
		t.Error("an old reading or none was counted")
	}
	b.Reset(time.Second)
	if b.Len() != 0 || b.N() != 0 || b.Width() != time.Second {
		t.Error("something is left after a reset")
	}
}

// Scale and shift of readings are those of blocks, to the rounding of one.
func TestBlocksAreEquivariant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		scale, shift := rapid.Float64Range(-3, 3).Draw(t, "scale"), rapid.Float64Range(-12, 12).Draw(t, "shift")
		a, b := trend.NewBlocks(time.Second, 6), trend.NewBlocks(time.Second, 6)
		for i, v := range rapid.SliceOfN(rapid.Float64Range(-1, 1), 1, 60).Draw(t, "values") {
			at := begin.Add(time.Duration(i) * 400 * time.Millisecond)
			a.Add(at, v)
			b.Add(at, scale*v+shift)
		}
		other := b.AppendPoints(nil)
		for i, p := range a.AppendPoints(nil) {
			if other[i].At != p.At || math.Abs(other[i].V-scale*p.V-shift) > 1e-9 {
				t.Fatalf("block %d: %g, want %g", i, other[i].V, scale*p.V+shift)
			}
		}
	})
}

// streamed puts points into blocks of 5 s at first, 240 at most.
func streamed(points []trend.Point) *trend.Blocks {
	b := trend.NewBlocks(5*time.Second, 240)
	for _, p := range points {
		b.Add(p.At, p.V)
	}
	return b
}

// From blocks, settling and its end come out as from the readings themselves.
func TestBlocksServeSettlingAndForetelling(t *testing.T) {
	o := trend.SettleOptions{Limit: 2e-3, Unit: capture.Volt}
	for seed := range uint64(10) {
		for _, parts := range [][]part{single, double} {
			for m := 35; m <= 60; m += 25 {
				all := warmUp(seed, time.Duration(m)*time.Minute, 0, parts...)
				points := streamed(all).AppendPoints(nil)
				a, b := trend.Settle(all, o), trend.Settle(points, o)
				if a.Settled != b.Settled || a.Slower != b.Slower || a.Known && math.Abs(a.Remaining-b.Remaining) > 2*a.U+0.1*math.Abs(a.Remaining) {
					t.Errorf("seed %d, %d min: blocks %+v, readings %+v", seed, m, b, a)
				}
				f, g := trend.Foretell(all, o), trend.Foretell(points, o)
				if f.Known && g.Known && math.Abs(f.Final-g.Final) > 3*f.U { // medians are noisier by a quarter than means
					t.Errorf("seed %d, %d min: blocks %+v, readings %+v", seed, m, g, f)
				}
			}
		}
	}
}

// The drift of a stream: believed where blocks can be made long enough, and
// then it holds the truth. At 10 readings a second φ 0.99 hangs together for
// 10 s: twenty blocks of 100 s need 2,000 s, which are not there.
func TestStreamedDriftHoldsTheTruth(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	const n, slope = 6000, 2e-6
	runs := trials(160)
	for _, phi := range []float64{0, 0.5, 0.9, 0.99} {
		believed, held := 0, 0
		for range runs {
			b := trend.NewBlocks(time.Second, 120)
			for i, v := range ar1(r, n, phi) {
				at := time.Duration(i) * 100 * time.Millisecond
				b.Add(begin.Add(at), 5+1e-3*v+slope*at.Seconds())
			}
			d := b.Drift(0)
			if d.Enough {
				believed++
				if d.Low <= slope && slope <= d.High {
					held++
				}
			} else if d.Why == "" {
				t.Fatal("not enough, and no word why")
			}
		}
		t.Logf("φ %g: believed %d of %d, held %d", phi, believed, runs, held)
		if phi < 0.95 && believed < runs*9/10 || phi == 0.99 && believed > runs/10 {
			t.Errorf("φ %g: believed %d of %d", phi, believed, runs)
		}
		if p := float64(held) / float64(max(1, believed)); phi < 0.95 && p < 0.94-3*chance(0.94, believed)-0.02 {
			t.Errorf("φ %g: %.3f of the intervals hold the truth", phi, p)
		}
	}
}

// The same rules as for a batch: digits that never change, and too few blocks.
func TestStreamedDriftOfIdenticalDigits(t *testing.T) {
	b := trend.NewBlocks(time.Minute, 240)
	if d := b.Drift(0.01); d.Enough || d.Why != "0 blocks, 20 are needed" {
		t.Errorf("nothing: %+v", d)
	}
	for i := range 3000 {
		b.Add(begin.Add(time.Duration(i)*time.Second), 5.01)
	}
	d, want := b.Drift(0.01), 0.01/2999
	if d.PerSecond != 0 || math.Abs(d.Low+want) > 1e-12 || math.Abs(d.High-want) > 1e-12 || !d.Enough {
		t.Errorf("%+v, want ± %g", d, want)
	}
}

// Three days at ten readings a second: bounded, deterministic, no allocations
// once the buffers stand.
func TestBlocksOfDays(t *testing.T) {
	n := trials(2_592_000)
	feed := func() *trend.Blocks {
		b := trend.NewBlocks(time.Second, 240)
		for i := range n {
			b.Add(begin.Add(time.Duration(i)*100*time.Millisecond), 5+1e-3*float64(i*7919%1000))
		}
		return b
	}
	a, b := feed(), feed()
	if a.Len() > 240 || a.Len() < 119 || !slices.Equal(a.AppendPoints(nil), b.AppendPoints(nil)) {
		t.Errorf("%d blocks of %s", a.Len(), a.Width())
	}
	for _, p := range a.AppendPoints(nil) {
		if math.Abs(p.V-5.5) > 0.05 {
			t.Fatalf("a block of %g", p.V)
		}
	}
	at := begin.Add(a.Span())
	if got := testing.AllocsPerRun(1000, func() {
		at = at.Add(100 * time.Millisecond)
		a.Add(at, 5)
	}); got > 0 {
		t.Errorf("%g allocations a reading", got)
	}
}

func BenchmarkBlocks(b *testing.B) {
	blocks, at := trend.NewBlocks(time.Second, 240), begin
	perReading(b, numbers(b, "Lottery"), func(v float64) {
		at = at.Add(100 * time.Millisecond)
		blocks.Add(at, v)
	})
}

// Baseline: the slope of the readings kept as they are, a 240th of a night's.
func BenchmarkDrift(b *testing.B) {
	points := warmUp(1, 40*time.Minute, 0, single...)
	b.Run("baseline=batch", func(b *testing.B) {
		for b.Loop() {
			sink = trend.BlockDrift(points, 40*time.Second, 0).PerSecond
		}
	})
	b.Run("blocks", func(b *testing.B) {
		blocks := streamed(points)
		for b.Loop() {
			sink = blocks.Drift(0).PerSecond
		}
	})
}
