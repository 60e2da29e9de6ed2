package block

import "math/bits"

// choice is how the residuals of a column are coded.
type choice struct {
	code int
	k    uint // of Rice codes
	cost int  // estimated bits
}

// A long column is judged by a sample: a few windows of sampled rows, before each
// of which a running prediction warms up.
const (
	sampled = 128
	warming = 64
	probes  = 63 // pairs of rows looked at for a typical difference
)

// choose completes the model with what predicts the column cheapest, and moves
// base and ys to where the prediction begins with zero.
func (c *columns) choose(m *model, ys []int64) choice {
	if spans(ys) {
		m.frac = fraction
	}
	n := len(ys)
	near := c.slope(ys, 1)
	far := c.slope(ys, max(1, n/8))
	usual := c.usual(ys, near)
	flat := usual == 0
	limit := uint(63)
	if !flat {
		limit = uint(bits.Len64(zigzag(usual)))
	}

	best := choice{cost: int(^uint(0) >> 1)}
	chosen, start := *m, int64(0)
	try := func(shift uint, step, from int64) {
		t := *m
		t.shift, t.step = shift, step
		if how := estimate(&t, ys, from, limit, flat); how.cost < best.cost {
			best, chosen, start = how, t, from
		}
	}
	try(0, near<<m.frac, 0)
	try(straight, near<<m.frac, 0)
	if !flat {
		if step, from, ok := fit(ys, m.frac); ok {
			try(straight, step, from)
		}
		slope := scaled(far, int64(max(1, n/8)), m.frac)
		for _, shift := range []uint{2, 4, 6} {
			try(shift, slope, 0)
		}
	}
	*m = chosen
	if start != 0 {
		m.base += start * int64(m.unit)
		for i := range ys {
			ys[i] -= start
		}
	}
	return best
}

// spans reports whether all of the column leaves room for a fraction.
func spans(ys []int64) bool {
	lo, hi := ys[0], ys[0]
	for _, y := range ys {
		lo, hi = min(lo, y), max(hi, y)
	}
	return lo > -mostSpan && hi < mostSpan
}

// slope returns the usual difference of rows that are width apart: the median,
// which a few outliers or a gap do not move.
func (c *columns) slope(ys []int64, width int) int64 {
	c.sorted = c.sorted[:0]
	last := len(ys) - width
	for i := 0; i < last; i += max(1, last/probes) {
		c.sorted = append(c.sorted, ys[i+width]-ys[i])
	}
	return median(c.sorted)
}

// usual returns the median distance of the difference of neighbours from near:
// zero in a column that seldom leaves a line.
func (c *columns) usual(ys []int64, near int64) int64 {
	c.sorted = c.sorted[:0]
	last := len(ys) - 1
	for i := 0; i < last; i += max(1, last/probes) {
		d := ys[i+1] - ys[i] - near
		c.sorted = append(c.sorted, max(d, -d))
	}
	return median(c.sorted)
}

// scaled returns rise/run with frac bits behind the point.
func scaled(rise, run int64, frac uint) int64 {
	whole := rise / run
	return whole<<frac + (rise%run)<<frac/run
}

// fit lays the line of least squares through the column. The explicit
// conversions keep every machine from fusing multiplication and addition, so
// that all write the same bytes.
func fit(ys []int64, frac uint) (step, from int64, ok bool) {
	const most = 1 << 46
	n := float64(len(ys))
	mid := (n - 1) / 2
	var sum, moment float64
	for i, y := range ys {
		sum += float64(y)
		moment += float64((float64(i) - mid) * float64(y))
	}
	slope := moment / (float64(float64(n*n)-1) * n / 12) // sum of (i-mid)^2
	start := sum/n - float64(slope*mid)
	if !(slope > -most && slope < most && start > -most && start < most) {
		return 0, 0, false
	}
	return int64(slope * float64(int64(1)<<frac)), int64(start), true
}

// estimate returns the cheapest coding under a model and what it costs.
func estimate(m *model, ys []int64, from int64, limit uint, all bool) choice {
	var h histogram
	n := len(ys)
	windows := 2 // the more the longer, since a block stays and a commit's part of the tail does not
	if n > 2000 {
		windows = 4
	}
	if all || n <= windows*(sampled+warming) {
		p := int64(0)
		h.follow(m, ys, from, p, 0, limit)
	} else {
		for w := range windows {
			i := (n - sampled - warming) * w / (windows - 1)
			p := (ys[i] - from) << m.frac
			if m.shift == straight {
				p = int64(i) * m.step
			}
			h.follow(m, ys[i:i+sampled+warming], from, p, warming, limit)
		}
	}
	return h.choice()
}

// follow counts the residuals of rows under a model from a prediction on. The
// first skip rows are not counted. Residuals of more than longest << limit are
// taken as escaped.
func (h *histogram) follow(m *model, ys []int64, from, p int64, skip int, limit uint) {
	shift, mask := m.correction()
	half, frac, step := m.half(), m.frac, m.step
	for i, y := range ys {
		y -= from
		u := zigzag(y - (p+half)>>frac)
		if i >= skip {
			h.add(u)
		}
		if u>>limit >= longest {
			p = y << frac
		}
		p += step + (y<<frac-p)>>shift&mask
	}
}
