package sim

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"steadyrail/capture"
)

// contact is how a meter's leads lie from an instant on, until the next.
type contact struct {
	from capture.Instant
	made bool
	at   node    // -1: nothing between the leads but contact and copper
	ohms float64 // of the contact
	back bool    // leads exchanged: red on the return
	hold capture.Hold
}

// sign is how the meter counts a node's voltage.
func (c contact) sign() float64 {
	if c.back {
		return -1
	}
	return 1
}

// probe is a meter's pair of leads: the red one on a point, the black one on
// the return, unless they are exchanged. It keeps where it was, because a reading looks back over its
// aperture, and a probe that moves in the middle of one gives a mixture.
type probe struct {
	r     *rand.Rand
	leads float64 // ohm
	back  bool    // leads exchanged, from the next touch on
	was   []contact
}

const keptContacts = 32

func newProbe(r *rand.Rand, leads float64) probe { return probe{r: r, leads: leads} }

func (p *probe) add(c contact) {
	// Whoever moves the probe again before it made contact never made it.
	for len(p.was) > 0 && p.was[len(p.was)-1].from >= c.from {
		p.was = p.was[:len(p.was)-1]
	}
	if len(p.was) == keptContacts {
		copy(p.was, p.was[1:])
		p.was = p.was[:keptContacts-1]
	}
	p.was = append(p.was, c)
}

// touch moves the probe to a point and returns when it will make contact: a
// hand takes its time, a clip is on at once but still has bounced.
func (p *probe) touch(now capture.Instant, at node, hold capture.Hold) capture.Instant {
	p.add(contact{from: now})
	c := contact{made: true, at: at, hold: hold, back: p.back}
	if hold == capture.Clipped {
		c.from = now + 10_000
		c.ohms = between(p.r, 0.003, 0.006)
	} else {
		c.from = now + capture.Instant(between(p.r, 40_000, 160_000))
		c.ohms = 0.012 + 0.010*math.Abs(p.r.NormFloat64())
	}
	p.add(c)
	return c.from
}

func (p *probe) lift(now capture.Instant) { p.add(contact{from: now}) }

// present returns the contact at an instant.
func (p *probe) present(t capture.Instant) contact {
	for i := len(p.was) - 1; i >= 0; i-- {
		if p.was[i].from <= t {
			return p.was[i]
		}
	}
	return contact{}
}

// pieces calls yield for every stretch of [from, to] with one contact.
func (p *probe) pieces(from, to capture.Instant, yield func(c contact, from, to capture.Instant)) {
	for t := from; ; {
		end := to
		for _, c := range p.was {
			if c.from > t && c.from < end {
				end = c.from
			}
		}
		yield(p.present(t), t, end)
		if end >= to {
			return
		}
		t = end
	}
}

// holdTau is how long an input above 10 gigaohm keeps the last voltage of a
// lifted probe: about 10 gigaohm times 300 pF. With 10 megaohm it
// is 3 ms.
func holdTau(highImpedance bool) float64 {
	if highImpedance {
		return 3
	}
	return 0.003
}

// volts is the mean over [from, to] of what the input sees.
func (p *probe) volts(past *history, from, to capture.Instant, highImpedance bool) float64 {
	var area, span float64
	p.pieces(from, to, func(c contact, from, to capture.Instant) {
		width := math.Max(float64(to-from), 1)
		span += width
		area += width * p.seen(past, c, from, to, highImpedance)
	})
	return area / span
}

func (p *probe) seen(past *history, c contact, from, to capture.Instant, highImpedance bool) float64 {
	if c.made {
		if c.at < 0 {
			return 0
		}
		return c.sign() * past.mean(c.at, from, to)
	}
	left := p.present(c.from - 1)
	if !left.made || left.at < 0 {
		return 0
	}
	// A mean of an exponential from the moment of lifting.
	tau := holdTau(highImpedance)
	a, b := from.Sub(c.from).Seconds()/tau, to.Sub(c.from).Seconds()/tau
	v := left.sign() * past.mean(left.at, c.from, c.from)
	if b-a < 1e-9 {
		return v * math.Exp(-a)
	}
	return v * (math.Exp(-a) - math.Exp(-b)) / (b - a)
}

// ohmsSeen is what an ohmmeter finds over [from, to]: the mean voltage that
// the node has, for its test current among other reasons, over that current,
// and the contact and copper in series. Open leads at any moment are open.
func (p *probe) ohmsSeen(past *history, from, to capture.Instant, amps float64) (ohms, volts float64, open bool) {
	var span float64
	p.pieces(from, to, func(c contact, from, to capture.Instant) {
		if !c.made {
			open = true
			return
		}
		width := math.Max(float64(to-from), 1)
		v := 0.0
		if c.at >= 0 {
			v = c.sign() * past.mean(c.at, from, to)
		}
		span += width
		ohms += width * (v/amps + c.ohms + p.shake(c.hold))
		volts += width * v
	})
	if open || span == 0 {
		return 0, 0, true
	}
	return ohms/span + p.leads, volts / span, false
}

// shake is how the contact changes while it is held.
func (p *probe) shake(hold capture.Hold) float64 {
	if hold == capture.Clipped {
		return 0.0004 * p.r.NormFloat64()
	}
	return 0.003 * p.r.NormFloat64()
}

func pointNode(point string) (node, error) {
	n, known := electricPoints[point]
	if !known {
		return 0, fmt.Errorf("no point %q on this bench: use one of %s", point, strings.Join(Points(), ", "))
	}
	return n, nil
}
