package trend

import (
	"math"
	"slices"
	"time"

	"steadyrail/capture"
)

// Median returns the middle of the values, or the mean of the two in the
// middle, without changing them. It is 0 of nothing.
func Median(values []float64) float64 { return Quantile(values, 0.5) }

// Quantile returns the value below which the share p of the values lies, by
// linear interpolation between order statistics (type 7 of Hyndman and Fan,
// The American Statistician 50 (1996) 361). It does not change the values, and
// is 0 of nothing.
func Quantile(values []float64, p float64) float64 {
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	return quantileOf(sorted, p)
}

func quantileOf(sorted []float64, p float64) float64 {
	if len(sorted) == 0 {
		return 0
	}
	at := float64(float64(len(sorted)-1) * min(1, max(0, p)))
	i := int(math.Floor(at))
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	part := at - float64(i)
	if part == 0.5 { // the same whichever way one counts
		return sorted[i]/2 + sorted[i+1]/2
	}
	return sorted[i] + float64(part*(sorted[i+1]-sorted[i]))
}

// mostInWindow bounds a sliding median: 30 s at 136 readings a second.
const mostInWindow = 4096

// SlidingMedian is the median of what was added in the last span of time: the
// reference that a collapse is measured against. To freeze it, stop adding; it
// forgets only when something newer comes or [SlidingMedian.Forget] is called.
type SlidingMedian struct {
	span   time.Duration
	queue  []timed // in order of time
	sorted []float64
}

type timed struct {
	at capture.Instant
	v  float64
}

// NewSlidingMedian makes an empty window of the given length.
func NewSlidingMedian(span time.Duration) *SlidingMedian { return &SlidingMedian{span: span} }

// Add takes a value, not older than the last, and forgets what is older than
// the span before it. NaN is ignored. At most 4096 values are kept.
func (w *SlidingMedian) Add(at capture.Instant, v float64) {
	if math.IsNaN(v) {
		return
	}
	w.Forget(at.Add(-w.span))
	if len(w.queue) >= mostInWindow {
		w.drop(1)
	}
	w.queue = append(w.queue, timed{at, v})
	i, _ := slices.BinarySearch(w.sorted, v)
	w.sorted = slices.Insert(w.sorted, i, v)
}

// Forget drops what was added before the instant.
func (w *SlidingMedian) Forget(before capture.Instant) {
	n := 0
	for n < len(w.queue) && w.queue[n].at < before {
		n++
	}
	if n == len(w.queue) {
		w.Reset()
		return
	}
	w.drop(n)
}

func (w *SlidingMedian) drop(n int) {
	for _, old := range w.queue[:n] {
		i, _ := slices.BinarySearch(w.sorted, old.v)
		w.sorted = slices.Delete(w.sorted, i, i+1)
	}
	w.queue = slices.Delete(w.queue, 0, n)
}

// Reset forgets everything.
func (w *SlidingMedian) Reset() { w.queue, w.sorted = w.queue[:0], w.sorted[:0] }

// Len returns how many values are kept.
func (w *SlidingMedian) Len() int { return len(w.queue) }

// Median returns the median, and false when there is nothing.
func (w *SlidingMedian) Median() (float64, bool) {
	if len(w.sorted) == 0 {
		return 0, false
	}
	return quantileOf(w.sorted, 0.5), true
}
