package kind

import (
	"time"

	"steadyrail/capture"
	"steadyrail/rules/trend"
)

// windowReadings bounds what a mean is taken over: at 50 readings a second a
// window of five seconds.
const windowReadings = 256

// window holds the newest readings of a span. The zero value with a span set
// is empty and ready. Sums are taken anew from time to time, so that rounding
// cannot pile up over a long soak.
type window struct {
	span   time.Duration
	at     [windowReadings]capture.Instant
	v      [windowReadings]float64
	first  int // index of the oldest
	n      int
	shift  float64 // values are summed about this one, against cancellation
	sum    float64
	square float64
	lagged float64 // sum of products of neighbours
	adds   int
}

func (w *window) reset() { w.first, w.n, w.sum, w.square, w.lagged, w.adds = 0, 0, 0, 0, 0, 0 }

func (w *window) add(at capture.Instant, v float64) {
	for w.n > 0 && (w.n == windowReadings || at.Sub(w.at[w.first]) > w.span) {
		w.drop()
	}
	if w.n == 0 {
		w.shift, w.sum, w.square, w.lagged = v, 0, 0, 0
	}
	i := (w.first + w.n) % windowReadings
	w.at[i], w.v[i] = at, v
	w.n++
	d := v - w.shift
	if w.n > 1 {
		w.lagged += float64(d * w.off(w.n-2))
	}
	w.sum += d
	w.square += float64(d * d)
	if w.adds++; w.adds >= windowReadings {
		w.renew()
	}
}

func (w *window) drop() {
	d := w.v[w.first] - w.shift
	w.sum -= d
	w.square -= float64(d * d)
	if w.n > 1 {
		w.lagged -= float64(d * w.off(1))
	}
	w.first = (w.first + 1) % windowReadings
	w.n--
}

func (w *window) renew() {
	w.shift, w.sum, w.square, w.lagged, w.adds = w.v[w.first], 0, 0, 0, 0
	for k := range w.n {
		d := w.v[(w.first+k)%windowReadings] - w.shift
		w.sum += d
		w.square += float64(d * d)
		if k > 0 {
			w.lagged += float64(d * w.off(k-1))
		}
	}
}

// off is how far the k-th reading, from the oldest, lies from the shift.
func (w *window) off(k int) float64 { return w.v[(w.first+k)%windowReadings] - w.shift }

func (w *window) mean() float64 { return w.shift + w.sum/float64(w.n) }

// variance is the sample variance: 0 below two readings.
func (w *window) variance() float64 {
	if w.n < 2 {
		return 0
	}
	n := float64(w.n)
	return max(0, (w.square-float64(w.sum*w.sum)/n)/(n-1))
}

// lag1 is the autocorrelation at lag one, as trend.Moments has it: 0 for fewer
// than three readings and for readings that are all the same.
func (w *window) lag1() float64 {
	if w.n < 3 {
		return 0
	}
	n := float64(w.n)
	mean := w.sum / n
	about := w.square - float64(w.sum*mean)
	if about <= 0 {
		return 0
	}
	inner := 2*w.sum - w.off(0) - w.off(w.n-1)
	return (w.lagged - float64(mean*inner) + float64((n-1)*float64(mean*mean))) / about
}

// effective is how many of the readings count as independent.
func (w *window) effective() float64 { return trend.Effective(w.n, w.lag1()) }

func (w *window) from() capture.Instant { return w.at[w.first] }
