package poll

import (
	"math"
	"math/rand/v2"
	"time"

	"steadyrail/capture"
)

// Schedule says when a channel is due. Slot k lies at start + k·every + u(k),
// where u is uniform in plus or minus half of every, times the dither, and
// depends on nothing but the seed and k: a schedule can be computed again
// afterwards. Not safe for concurrent use.
type Schedule struct {
	start  capture.Instant
	every  float64 // microseconds
	dither float64 // 0 to 1
	seed   uint64
	k      int64
}

// NewSchedule returns a schedule whose pending slot is slot 0. A dither of 1
// spreads each poll over its whole interval, 0 polls like a clock. An interval
// below a microsecond counts as one.
func NewSchedule(start capture.Instant, every time.Duration, dither float64, seed uint64) *Schedule {
	us := math.Max(1, float64(every)/float64(time.Microsecond))
	return &Schedule{start: start, every: us, dither: dither, seed: seed}
}

// Slot returns the instant of slot k.
func (s *Schedule) Slot(k int64) capture.Instant {
	u := float64(rand.NewPCG(s.seed, uint64(k)).Uint64()>>11)/(1<<53) - 0.5
	return s.start + capture.Instant(math.Floor((float64(k)+float64(u*s.dither))*s.every))
}

// Due returns the instant of the pending slot.
func (s *Schedule) Due() capture.Instant { return s.Slot(s.k) }

// Next is called when the pending slot has been used. It moves on to the next
// one, or, when later ones are due by now as well, to the last of those, and
// returns how many were missed.
func (s *Schedule) Next(now capture.Instant) (missed int64) {
	s.k++
	if last := s.latest(now); last > s.k {
		missed = last - s.k
		s.k = last
	}
	return missed
}

// Restart makes the first slot after now the pending one. Nothing counts as
// missed.
func (s *Schedule) Restart(now capture.Instant) { s.k = s.latest(now) + 1 }

// latest returns the last slot that is due by now. Slots are in order, since
// none is further than half an interval from its grid point.
func (s *Schedule) latest(now capture.Instant) int64 {
	k := int64(math.Floor(float64(now-s.start)/s.every)) + 2
	for s.Slot(k) > now {
		k--
	}
	return k
}

// stamp estimates when a value was measured that was asked for at start and
// was complete at end, from what the model says of its instrument: the length
// of the aperture, the lag from its end to the first character, and the time
// the characters were on the line. It returns the middle of the aperture, half
// of what is not known about it, and the earliest instant at which the aperture
// may have begun.
//
// If the exchange took longer than the three together, the slack may lie before
// the aperture or behind it. If it took less, or runs says so, the instrument did
// not wait for the request: it answered with the last of a running series. When
// it looked that up lies anywhere within the exchange, and what it found may have
// ended up to one aperture before.
func stamp(start, end capture.Instant, aperture, lag, transfer time.Duration, runs bool) (measured capture.Instant, half time.Duration, begun capture.Instant) {
	latest := end.Add(-transfer - lag) // of the aperture's end
	if first := start.Add(aperture); !runs && first <= latest {
		return between(first, latest, aperture, start)
	}
	return between(min(start, latest).Add(-aperture), latest, aperture, start)
}

// between places an aperture that ended somewhere in [first, latest].
func between(first, latest capture.Instant, aperture time.Duration, start capture.Instant) (measured capture.Instant, half time.Duration, begun capture.Instant) {
	unknown := latest.Sub(first)
	measured = latest.Add(-unknown/2 - aperture/2)
	return measured, unknown/2 + time.Microsecond, min(start, first.Add(-aperture))
}
