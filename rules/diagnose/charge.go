package diagnose

import (
	"fmt"
	"math"
	"slices"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// charge keeps how a rail's resistance came up under a probe while its
// capacitors charged: readings on one range, for with the range the meter's
// current changes and the charging begins anew. The zero value is ready.
type charge struct {
	from   capture.Instant // of the first reading under the probe
	to     capture.Instant
	points []charged
	of     float64 // range of the points
}

type charged struct {
	at  capture.Instant
	ohm float64
}

// mostCharged is how many points are kept; then every other one goes.
const mostCharged = 64

func (c *charge) add(at capture.Instant, ohm, of float64) {
	if c.to == 0 {
		c.from = at
	}
	if c.to = at; of != c.of {
		c.points, c.of = nil, of
	}
	if c.points = append(c.points, charged{at, ohm}); len(c.points) == mostCharged {
		kept := c.points[:0]
		for i := 1; i < mostCharged; i += 2 {
			kept = append(kept, c.points[i])
		}
		c.points = kept
	}
}

// near is the resistance at an instant between the points.
func (c *charge) near(at capture.Instant) float64 {
	i, found := slices.BinarySearchFunc(c.points, at, func(p charged, at capture.Instant) int { return int(p.at - at) })
	if found || i == 0 {
		return c.points[i].ohm
	}
	a, b := c.points[i-1], c.points[i]
	part := float64(at-a.at) / float64(b.at-a.at)
	return a.ohm + float64(part*(b.ohm-a.ohm))
}

// fewest points and shares of the second half's rise in the first's between
// which a time constant can be told from scatter (the project's choice).
const (
	fewestCharged         = 5
	leastShare, mostShare = 0.02, 0.9
)

// wait tells how long the probe has to be held from its last reading on until
// it counts as steady; false: it cannot be told. A capacitor that a constant
// current charges through the rail's resistance shows R (1 − e^(−t/τ)) on the
// meter. Of three readings as far apart from each other the rises stand as
// q = e^(−Δ/τ), so that τ = −Δ / ln q, and what remains is the second rise
// times q / (1 − q).
func (c *charge) wait() (d time.Duration, rises, known bool) {
	n := len(c.points)
	if n < fewestCharged {
		return 0, false, false
	}
	a, z := c.points[0], c.points[n-1]
	half := (z.at - a.at) / 2
	first, second := c.near(a.at+half)-a.ohm, z.ohm-c.near(a.at+half)
	rises = first > 0 && second > 0
	if !rises || half <= 0 {
		return 0, rises, false
	}
	q := second / first
	if q < leastShare || q > mostShare {
		return 0, rises, false
	}
	tau := -z.at.Sub(a.at).Seconds() / 2 / elementary.Log(q)
	left := second * q / (1 - q)
	// Steady is a change, in the last 0.6 s, of less than 5 % of the reading then.
	keeps := elementary.Exp(-steadyFor.Seconds() / tau)
	moves := float64(left*(1-keeps)) + float64(0.05*left*keeps)
	more := tau * elementary.Log(moves/float64(0.05*(z.ohm+left)))
	return time.Duration(max(more, 0)*float64(time.Second)) + steadyFor, rises, true
}

// say tells a person who held a probe too short how long it takes.
func (c *charge) say() string {
	held := c.to.Sub(c.from)
	out := fmt.Sprintf("it was held for %s s", capture.Figure(held.Seconds(), 0.1))
	more, rises, known := c.wait()
	switch {
	case known:
		whole := math.Ceil((held + more).Seconds())
		return fmt.Sprintf("%s, and by how its capacitors charge it takes about %.0f s: hold the probe that long", out, whole)
	case rises:
		return out + ", and still rose too evenly to tell how long it takes: hold the probe until the figure stands"
	}
	return out + ", and went up and down instead of rising as a capacitor that charges does: press harder, or clip the probe"
}
