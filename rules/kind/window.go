package kind

import (
	"time"

	"steadyrail/capture"
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
	adds   int
}

func (w *window) reset() { w.first, w.n, w.sum, w.square, w.adds = 0, 0, 0, 0, 0 }

func (w *window) add(at capture.Instant, v float64) {
	for w.n > 0 && (w.n == windowReadings || at.Sub(w.at[w.first]) > w.span) {
		w.drop()
	}
	if w.n == 0 {
		w.shift, w.sum, w.square = v, 0, 0
	}
	i := (w.first + w.n) % windowReadings
	w.at[i], w.v[i] = at, v
	w.n++
	d := v - w.shift
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
	w.first = (w.first + 1) % windowReadings
	w.n--
}

func (w *window) renew() {
	w.shift, w.sum, w.square, w.adds = w.v[w.first], 0, 0, 0
	for k := range w.n {
		d := w.v[(w.first+k)%windowReadings] - w.shift
		w.sum += d
		w.square += float64(d * d)
	}
}

func (w *window) mean() float64 { return w.shift + w.sum/float64(w.n) }

// variance is the sample variance: 0 below two readings.
func (w *window) variance() float64 {
	if w.n < 2 {
		return 0
	}
	n := float64(w.n)
	return max(0, (w.square-float64(w.sum*w.sum)/n)/(n-1))
}

func (w *window) from() capture.Instant { return w.at[w.first] }
