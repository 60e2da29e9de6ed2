package walk

import (
	"fmt"
	"math"
	"math/rand/v2"

	"steadyrail/capture"
)

// hazard is what the technician does not do.
// It is drawn ten times a second.
func hazard(b *testBench, stats map[string]int) {
	if b.now/(100*ms) == (b.now-10*ms)/(100*ms) {
		return
	}
	switch n := b.r.Uint32N(20_000); {
	case n < 2:
		stats["supply"]++
		b.feed(capture.Record{At: b.stamp(), Job: "other", Item: capture.Act{Verb: capture.ActLimits, Subject: "supply"}})
	case n < 4:
		stats["skip"]++
		b.carry(b.m.Press(b.now, Long))
	case n < 6:
		stats["unplugged"]++
		b.feed(capture.Record{At: b.stamp(), Item: capture.Reading{Channel: b.channel(), Quantity: b.selects, Flags: capture.Disconnected}})
		b.next = b.now + 2_000*ms
	}
}

// anyWalk draws a board, a meter and a technician. Figures of two rails part by a
// tenth at least: what reads alike nobody can tell apart.
func anyWalk(r *rand.Rand) (*testBench, *technician) {
	s := Setup{Job: "AB-0147", Volts: voltsOn, Ohms: ohmsOn, Live: r.IntN(3) == 0}
	s.Both = !s.Live && r.IntN(4) == 0
	if r.IntN(3) > 0 {
		s.TopVolts, s.TopOhms = 20, 1e8
	}
	var rails []trueRail
	for i := range 3 + r.IntN(4) {
		s.Rails = append(s.Rails, anyRail(i))
		rails = append(rails, anyTruth(r, s.Rails[i], i, s.Live))
	}
	b := newTestBench(r, s, rails)
	b.every = capture.Instant(50*ms) * capture.Instant(1+r.IntN(7))
	b.aperture = b.every / capture.Instant(2+r.IntN(9))
	b.float = 0.01 * r.Float64()
	if r.IntN(10) == 0 {
		b.hold = 3
	}
	return b, &technician{b: b, errs: true}
}

func anyRail(i int) capture.Rail {
	rail := capture.Rail{Name: fmt.Sprintf("rail %d", i), Nominal: math.Pow(1.6, float64(i+1)), ShortBelow: 5}
	if i%3 == 2 {
		rail.Nominal = -rail.Nominal
	}
	half := 0.03 * math.Abs(rail.Nominal)
	rail.Target, rail.Bounds = rail.Nominal, capture.Bounds{Low: rail.Nominal - half, High: rail.Nominal + half}
	return rail
}

// anyTruth is dead, or live, now and then a dead one among live ones and a charged
// one among dead ones; from a short to a megaohm.
func anyTruth(r *rand.Rand, rail capture.Rail, i int, live bool) trueRail {
	t := trueRail{ohms: math.Pow(10, 6*(float64(i)+0.8*r.Float64())/7) * 0.2}
	t.back = t.ohms * 1.5
	if r.IntN(3) == 0 {
		t.tau = 0.02 + 0.5*r.Float64()
		if t.ohms > 100 && r.IntN(2) == 0 {
			t.tau *= 8 // millifarads: too long to be waited for
		}
	}
	switch {
	case live && r.IntN(8) > 0:
		t.volts = rail.Nominal * (1 + 0.02*r.NormFloat64())
		t.drift = rail.Nominal * 1e-5 * r.NormFloat64()
	case r.IntN(8) == 0:
		t.volts = rail.Nominal * (0.1 + 0.2*r.Float64())
	}
	return t
}
