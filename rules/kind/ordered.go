package kind

import (
	"time"

	"steadyrail/capture"
)

// ordered holds the newest readings of a span in order of time and of size.
// The zero value is empty and ready; it never allocates.
type ordered struct {
	at    [windowReadings]capture.Instant
	v     [windowReadings]float64
	size  [windowReadings]float64 // v[...] in order of size, the first n
	first int
	n     int
}

func (o *ordered) reset() { o.first, o.n = 0, 0 }

func (o *ordered) add(at capture.Instant, v float64, span time.Duration) {
	gone := 0
	for o.n > gone && (o.n-gone == windowReadings || at.Sub(o.at[(o.first+gone)%windowReadings]) > span) {
		gone++
	}
	if gone == 1 { // as in a steady stream: one goes, one comes
		o.move(o.v[o.first], v)
		o.first = (o.first + 1) % windowReadings
		o.n--
	} else {
		for range gone {
			o.drop()
		}
		o.insert(v)
	}
	i := (o.first + o.n) % windowReadings
	o.at[i], o.v[i] = at, v
	o.n++
}

func (o *ordered) insert(v float64) {
	k := place(o.size[:o.n], v)
	copy(o.size[k+1:o.n+1], o.size[k:o.n])
	o.size[k] = v
}

func (o *ordered) drop() {
	k := place(o.size[:o.n], o.v[o.first])
	copy(o.size[k:o.n-1], o.size[k+1:o.n])
	o.first = (o.first + 1) % windowReadings
	o.n--
}

// move takes one value out and another in, and moves only what lies between.
func (o *ordered) move(out, in float64) {
	from, to := places(o.size[:o.n], out, in)
	if to > from {
		copy(o.size[from:to-1], o.size[from+1:to])
		to--
	} else {
		copy(o.size[to+1:from+1], o.size[to:from])
	}
	o.size[to] = in
}

// place is the index of the first value that is not below v. The library's
// search spends most of its time on asking for NaN, of which there is none here.
func place(list []float64, v float64) int {
	at, _ := places(list, v, v)
	return at
}

// places is place of two values at once: neither search waits for the other,
// and neither has a branch that a processor would guess wrong half of the time.
func places(list []float64, v, w float64) (a, b int) {
	for n := len(list); n > 0; {
		half := (n + 1) >> 1
		a += half & -below(list[a+half-1], v)
		b += half & -below(list[b+half-1], w)
		n -= half
	}
	return a, b
}

// below is 1 where x lies below v, else 0.
func below(x, v float64) (is int) {
	if x < v {
		is = 1
	}
	return is
}

// middle is the width between the quantiles p and 1-p, for p below a half and at
// least ten values: by the plotting positions of Blom (Statistical Estimates and
// Transformed Beta Variables, 1958), at which the quantiles of few normal readings
// come out neither too near nor too far.
func (o *ordered) middle(p float64) float64 {
	at := float64(p*(float64(o.n)+0.25)) - 0.625 // from 0
	i := int(at)
	part := at - float64(i)
	low := o.size[i] + float64(part*(o.size[i+1]-o.size[i]))
	j := o.n - 1 - i
	return o.size[j] - float64(part*(o.size[j]-o.size[j-1])) - low
}

// lag1 is the autocorrelation at lag one: 0 for fewer than three readings and for
// readings that are all the same. It goes through the whole window.
func (o *ordered) lag1() float64 {
	if o.n < 3 || o.size[0] == o.size[o.n-1] {
		return 0
	}
	origin, sum := o.v[o.first], 0.0 // near all of them, which keeps the digits
	for _, v := range o.size[:o.n] {
		sum += v - origin
	}
	mean := sum / float64(o.n)
	squares, lagged, before := 0.0, 0.0, 0.0
	for k, i := 0, o.first; k < o.n; k, i = k+1, i+1 {
		if i == windowReadings {
			i = 0
		}
		d := o.v[i] - origin - mean
		squares += float64(d * d)
		lagged += float64(d * before)
		before = d
	}
	return lagged / squares
}

func (o *ordered) from() capture.Instant { return o.at[o.first] }
