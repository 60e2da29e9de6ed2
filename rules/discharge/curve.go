package discharge

import (
	"time"

	"steadyrail/capture"
)

// compare holds a reading against the curve from the first reading that fell.
// Until then nobody knows when the resistor got contact.
func (r *run) compare(p *Point, it capture.Reading) {
	noise := float64(5 * it.Resolution)
	if r.start.At == 0 {
		if r.last.At == 0 || r.first < p.Volts {
			r.first = p.Volts
		}
		if p.Volts < float64(began*r.first)-noise {
			r.start, r.fell = *p, true
			r.jumped(*p, it)
		}
		p.Expected = r.expected(p.At, 0, 1)
		return
	}
	doubt := 2 * it.HalfWidth
	p.Expected = r.expected(p.At, 0, 1)
	switch {
	case p.Volts > r.expected(p.At, -doubt, slow)+noise && p.Volts > float64(tail*r.start.Volts):
		r.parted = Slower
	case p.Volts < r.expected(p.At, doubt, fast)-noise && r.last.Volts > float64(tail*r.start.Volts) && r.parted == "":
		r.parted = Faster
	case r.parted == Slower && r.lowest < r.card.Level:
		r.parted = ""
	}
}

// jumped looks at the step to the first reading that fell: a probe that was
// lifted falls to nothing at once, which no capacitor does.
func (r *run) jumped(p Point, it capture.Reading) {
	if r.last.At == 0 {
		return
	}
	t := (p.At.Sub(r.last.At) + 2*it.HalfWidth).Seconds()
	least := float64(r.last.Volts * decay(max(0, t)/float64(r.card.Ohms*r.card.Farads*fast)))
	if p.Volts < least-float64(5*it.Resolution) {
		r.parted = Faster
	}
}

// expected is the first-order law V1 exp(-t/RC) from the start, for a time that
// may be off and a time constant that may be larger or smaller.
func (r *run) expected(at capture.Instant, off time.Duration, times float64) float64 {
	if r.start.At == 0 {
		return 0
	}
	t := max(0, (at.Sub(r.start.At) + off).Seconds())
	return float64(r.start.Volts * decay(t/float64(r.card.Ohms*r.card.Farads*times)))
}

func (r *run) extremes(p Point) {
	if r.last.At == 0 || p.Volts < r.lowest {
		r.lowest, r.lowAt, r.top = p.Volts, p.At, p.Volts
	}
	r.top = max(r.top, p.Volts)
}

// keep keeps a curve for the screen, thinned to half when it is full.
func (r *run) keep(p Point) {
	if r.skipped > 0 && len(r.points) > 0 && p.At.Sub(r.points[len(r.points)-1].At) < time.Duration(r.skipped)*100*time.Millisecond {
		return
	}
	r.points = append(r.points, p)
	if len(r.points) < mostPoints {
		return
	}
	half := r.points[:0]
	for i := 0; i < len(r.points); i += 2 {
		half = append(half, r.points[i])
	}
	r.points, r.skipped = half, max(1, 2*r.skipped)
}
