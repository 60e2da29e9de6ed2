package store

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// brute sums up records the slow and plain way into the buckets that were
// answered.
func brute(recs []capture.Record, spans []capture.Span, q capture.Quantity, like []capture.Bucket) []capture.Bucket {
	out := make([]capture.Bucket, len(like))
	for i, b := range like {
		out[i] = capture.Bucket{From: b.From, To: b.To}
		o := &out[i]
		total := 0.0
		for _, rec := range recs {
			r, ok := rec.Item.(capture.Reading)
			if !ok || r.Quantity != q || rec.At < b.From || rec.At >= b.To || !inSpan(spans, r.Channel, rec.At) {
				continue
			}
			if !r.HasValue() {
				o.Bad++
				continue
			}
			if o.N == 0 {
				o.Min, o.Max = r.Value, r.Value
			}
			o.Min, o.Max, o.Last = min(o.Min, r.Value), max(o.Max, r.Value), r.Value
			o.N++
			total += r.Value
			o.Mean = total / float64(o.N)
		}
	}
	return out
}

func inSpan(spans []capture.Span, ch capture.ChannelID, at capture.Instant) bool {
	for _, s := range spans {
		if s.Channel == ch && at >= s.From && (s.To == 0 || at < s.To) {
			return true
		}
	}
	return false
}

// close1 allows for another order of addition.
func close1(a, b float64) bool { return math.Abs(a-b) <= 1e-12*math.Abs(b) }

func TestSeriesIsExact(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	rnd := rand.New(rand.NewPCG(1, 2))
	var recs []capture.Record
	at := t0 + 1_234_567
	count := 2500
	if testing.Short() {
		count = 400
	}
	for range count {
		at += capture.Instant(rnd.IntN(150_000))
		if rnd.IntN(500) == 0 {
			at += 40_000_000 // a hole
		}
		rec := volts(at, []capture.ChannelID{"a/volts", "b/volts"}[rnd.IntN(2)], rnd.NormFloat64())
		r := rec.Item.(capture.Reading)
		switch rnd.IntN(20) {
		case 0:
			r.Flags = capture.TimedOut
		case 1:
			r.Quantity = capture.Resistance
		}
		rec.Item = r
		recs = append(recs, rec)
		j.Consume(rec)
		if rnd.IntN(400) == 0 {
			settle(t, j)
		}
	}
	settle(t, j)
	end := at
	rapid.Check(t, func(t *rapid.T) {
		instant := func(name string) capture.Instant {
			return capture.Instant(rapid.Int64Range(int64(t0-20*second), int64(end+20*second)).Draw(t, name))
		}
		var spans []capture.Span
		for _, ch := range []capture.ChannelID{"a/volts", "b/volts", "a/volts", "none/volts"} {
			s := capture.Span{Channel: ch, From: instant("from")}
			if len(spans) == 2 && spans[0].To != 0 {
				s.From = max(s.From, spans[0].To) // spans of one channel do not overlap
			} else if len(spans) == 2 {
				continue
			}
			if rapid.Bool().Draw(t, "ends") {
				s.To = s.From + capture.Instant(rapid.Int64Range(0, 200e6).Draw(t, "long"))
			}
			spans = append(spans, s)
		}
		var from, to capture.Instant
		if rapid.Bool().Draw(t, "bounded") {
			from, to = instant("begin"), instant("end")
		}
		points := rapid.SampledFrom([]int{1, 2, 7, 40, 300, 2000}).Draw(t, "points")
		got, err := j.Series(ctx, spans, capture.DCVoltage, from, to, points)
		if err != nil {
			t.Fatal(err)
		}
		if len(got) > points {
			t.Fatalf("%d buckets, %d asked for", len(got), points)
		}
		for i, want := range brute(recs, spans, capture.DCVoltage, got) {
			g := got[i]
			if !close1(g.Mean, want.Mean) && math.Abs(g.Mean-want.Mean) > 1e-12 {
				t.Fatalf("bucket %d: mean %g, want %g", i, g.Mean, want.Mean)
			}
			g.Mean = want.Mean
			if g != want {
				t.Fatalf("bucket %d of %d\n got %+v\nwant %+v", i, len(got), g, want)
			}
			if i > 0 && g.From != got[i-1].To {
				t.Fatalf("a hole before bucket %d", i)
			}
		}
		// Nothing of the asked stretch is left out.
		lo, hi := limits(spans, from, to, end)
		if lo < hi && (len(got) == 0 || got[0].From > lo || got[len(got)-1].To < min(hi, end)) {
			t.Fatalf("asked for %d to %d, covered by %d buckets", lo, hi, len(got))
		}
	})
}

func TestSeriesOfNothing(t *testing.T) {
	j := create(t, workspace(t, quick), "AB-0147")
	spans := []capture.Span{{Channel: "dmm/volts", From: t0}}
	if got, err := j.Series(ctx, spans, capture.DCVoltage, 0, 0, 10); err != nil || got != nil {
		t.Errorf("empty job: %v %v", got, err)
	}
	j.Consume(volts(t0, "dmm/volts", 5))
	settle(t, j)
	if got, err := j.Series(ctx, nil, capture.DCVoltage, 0, 0, 10); err != nil || len(got) > 10 {
		t.Errorf("no spans: %d buckets, %v", len(got), err)
	}
	if _, err := j.Series(ctx, spans, capture.DCVoltage, 0, 0, 0); err == nil {
		t.Error("no points: no error")
	}
	if got, err := j.Series(ctx, spans, capture.DCVoltage, 0, 0, 10); err != nil || len(got) != 1 || got[0].N != 1 || got[0].Last != 5 {
		t.Errorf("one reading: %+v %v", got, err)
	}
}
