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

// middle is the width of what is left when the share p is cut off at each end.
func (o *ordered) middle(p float64) float64 {
	cut := int(float64(p * float64(o.n)))
	return o.size[o.n-1-cut] - o.size[cut]
}

func (o *ordered) from() capture.Instant { return o.at[o.first] }
