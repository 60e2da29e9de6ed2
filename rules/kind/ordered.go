package kind

import (
	"slices"
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
	for o.n > 0 && (o.n == windowReadings || at.Sub(o.at[o.first]) > span) {
		o.drop()
	}
	i := (o.first + o.n) % windowReadings
	o.at[i], o.v[i] = at, v
	k, _ := slices.BinarySearch(o.size[:o.n], v)
	copy(o.size[k+1:o.n+1], o.size[k:o.n])
	o.size[k] = v
	o.n++
}

func (o *ordered) drop() {
	k, _ := slices.BinarySearch(o.size[:o.n], o.v[o.first])
	copy(o.size[k:o.n-1], o.size[k+1:o.n])
	o.first = (o.first + 1) % windowReadings
	o.n--
}

// middle is the width of what is left when the share p is cut off at each end.
func (o *ordered) middle(p float64) float64 {
	cut := int(float64(p * float64(o.n)))
	return o.size[o.n-1-cut] - o.size[cut]
}

func (o *ordered) from() capture.Instant { return o.at[o.first] }
