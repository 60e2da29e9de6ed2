package chart

import (
	"math"
	"slices"
	"time"

	"steadyrail/capture"
)

// row is one column of a drawing: extremes stay extremes. Values are turned so
// that more voltage lies higher, whatever the rail's sign.
type row struct {
	at             capture.Instant
	from, to       capture.Instant
	min, mean, max float64
	n              int
}

// hole is a stretch that nobody watched.
type hole struct {
	from, to capture.Instant
	why      string
}

func middle(b capture.Bucket) capture.Instant {
	if b.To <= b.From {
		return b.From
	}
	return b.From + (b.To-b.From)/2
}

func finite(b capture.Bucket) bool {
	for _, v := range []float64{b.Min, b.Mean, b.Max} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// turned makes a row of a bucket; sign is -1 for a negative rail.
func turned(b capture.Bucket, sign float64) row {
	r := row{at: middle(b), from: b.From, to: max(b.From, b.To), min: b.Min, mean: b.Mean, max: b.Max, n: b.N}
	if sign < 0 {
		r.min, r.mean, r.max = -b.Max, -b.Mean, -b.Min
	}
	return r
}

// split cuts a series into runs of rows that a line may join, and names the
// holes between them: a failed reading, a known gap, or a silence of more than
// three times the usual spacing (dithered polls come up to twice apart).
func split(series []capture.Bucket, sign float64, every time.Duration, gaps []capture.Gap) (runs [][]row, holes []hole) {
	patience := 3 * usual(series, every)
	var run []row
	failed := false
	for _, b := range series {
		if b.N <= 0 || !finite(b) {
			failed = failed || b.Bad > 0
			continue
		}
		r := turned(b, sign)
		if len(run) > 0 {
			last := run[len(run)-1]
			if h, cut := parted(last, r, patience, failed, gaps); cut {
				holes = append(holes, h)
				runs, run = append(runs, run), nil
			}
		}
		run, failed = append(run, r), false
	}
	if len(run) > 0 {
		runs = append(runs, run)
	}
	return runs, holes
}

// parted tells whether a line may join two rows, and if not, the hole between.
func parted(a, b row, patience time.Duration, failed bool, gaps []capture.Gap) (hole, bool) {
	for _, g := range gaps {
		if g.From < b.at && g.To > a.at && g.To > g.From {
			return hole{min(a.to, max(a.at, g.From)), max(b.from, min(b.at, g.To)), g.Reason}, true
		}
	}
	silent := patience > 0 && b.at.Sub(a.at) > patience
	return hole{a.to, b.from, "no reading"}, failed || silent
}

// usual is the spacing of good buckets: the greater of what was promised and
// the median of what came.
func usual(series []capture.Bucket, every time.Duration) time.Duration {
	var steps []time.Duration
	last := capture.Instant(0)
	for _, b := range series {
		if b.N <= 0 {
			continue
		}
		if last != 0 {
			steps = append(steps, middle(b).Sub(last))
		}
		last = middle(b)
	}
	if len(steps) == 0 {
		return every
	}
	slices.Sort(steps)
	return max(every, steps[len(steps)/2])
}

// squeeze leaves at most one row for each column. Means are weighted by the
// readings behind them; nothing that could be seen is lost.
func squeeze(run []row, from, to capture.Instant, columns int) []row {
	if len(run) <= columns || to <= from {
		return run
	}
	var out []row
	last := -1
	for _, r := range run {
		c := int(float64(r.at-from) / float64(to-from) * float64(columns))
		if c != last || len(out) == 0 {
			out, last = append(out, r), c
			continue
		}
		o := &out[len(out)-1]
		n := float64(o.n + r.n)
		o.mean += (r.mean - o.mean) * float64(r.n) / n
		o.min, o.max, o.n, o.to = min(o.min, r.min), max(o.max, r.max), o.n+r.n, r.to
	}
	return out
}

// covers returns what a series spans.
func covers(series []capture.Bucket) (from, to capture.Instant) {
	if len(series) == 0 {
		return 0, 0
	}
	last := series[len(series)-1]
	return series[0].From, max(last.From, last.To)
}

// window settles the axis: what was asked for, else what the series covers,
// and never less than a second.
func window(from, to capture.Instant, series []capture.Bucket) (capture.Instant, capture.Instant) {
	a, b := covers(series)
	if from == 0 {
		from = a
	}
	if to == 0 {
		to = b
	}
	if to <= from {
		to = from.Add(time.Second)
	}
	return from, to
}

// within keeps the rows on the axis.
func within(run []row, from, to capture.Instant) []row {
	var out []row
	for _, r := range run {
		if r.at >= from && r.at <= to {
			out = append(out, r)
		}
	}
	return out
}
