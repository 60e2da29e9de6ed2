package waveform

import (
	"fmt"
	"math"

	"steadyrail/capture/elementary"
)

// Start is the shape of a rail coming up, by magnitude.
type Start struct {
	States
	Rise    float64 // s from 10 to 90 %: the transition duration
	Count   float64 // s, the longest step between samples on the rise
	Over    float64 // V above the high state after the rise
	Under   float64 // V below the high state behind the overshoot, until it is settled
	Back    float64 // V, the largest fall on the way from 10 to 90 %
	BackAt  float64 // s, where that fall ended
	Settled float64 // s from 10 % until it stays within Within of the high state; +Inf: never, or too short to tell
	Within  float64 // V
	Swings  int     // how often it crosses the high state before it is settled
	Tail    Ripple  // of what is settled
}

// OverPart is the overshoot in parts of the amplitude.
func (s Start) OverPart() float64 { return s.Over / s.Amplitude() }

// Damping is the ratio of a second-order system with this overshoot:
// ζ = −ln p / √(π² + ln² p), from p = exp(−πζ/√(1−ζ²)). It is 1 without one. A
// supply is no second-order system: this is a hint.
func (s Start) Damping() float64 {
	p := s.OverPart()
	if p <= 0 {
		return 1
	}
	if p >= 1 {
		return 0
	}
	l := elementary.Log(p)
	return -l / math.Sqrt(float64(math.Pi*math.Pi)+float64(l*l))
}

// Start works out a rise to target volts, within volts of which it counts as
// settled. The trace is by magnitude. The error wraps [ErrShape] when no rise of
// at least half the target is there, or when nothing of it is settled.
func (t Trace) Start(within float64) (Start, error) {
	if err := t.Check(); err != nil {
		return Start{}, err
	}
	s := Start{States: t.States(), Within: within}
	if noise := t.quantum(); s.Amplitude() <= 4*noise {
		return s, fmt.Errorf("%w: there is no rise, the whole capture lies within %.3g V", ErrShape, span(t.Values))
	}
	ten, ninety := s.Level(0.1), s.Level(0.9)
	top := t.firstAbove(ninety, 0)
	foot := t.lastBelow(ten, top)
	if foot < 0 {
		return s, fmt.Errorf("%w: it is up when the capture begins: take it again with more time before the trigger", ErrShape)
	}
	begun := t.crossing(foot+1, ten)
	s.Rise = t.crossing(top, ninety) - begun
	for i := foot + 1; i <= top; i++ {
		s.Count = max(s.Count, t.Times[i]-t.Times[i-1])
	}
	s.Back, s.BackAt = t.fall(foot, top)
	last := t.lastOutside(s.High, within, top)
	if len(t.Values)-1-last < fewest/2 { // on its way through, as far as anybody can tell
		s.Settled = math.Inf(1)
	} else {
		s.Settled = max(0, t.Times[max(last, top-1)+1]-begun)
		s.Tail = t.Part(last+1, len(t.Values)).Ripple()
	}
	s.aberrations(t, top, last)
	return s, nil
}

// aberrations are the overshoot, the undershoot behind it, and how often the
// high state is crossed before it is settled.
func (s *Start) aberrations(t Trace, top, last int) {
	peak := top
	for i := top; i < len(t.Values); i++ {
		if t.Values[i] > t.Values[peak] {
			peak = i
		}
	}
	s.Over = max(0, t.Values[peak]-s.High)
	above := t.Values[top] > s.High
	for i := peak; i < len(t.Values); i++ {
		s.Under = max(s.Under, s.High-t.Values[i])
	}
	for i := top; i <= last; i++ {
		if now := t.Values[i] > s.High; now != above {
			above = now
			s.Swings++
		}
	}
}

// lastBelow is the last sample at or below a level before index i; -1: none.
func (t Trace) lastBelow(level float64, i int) int {
	for i--; i >= 0; i-- {
		if t.Values[i] <= level {
			return i
		}
	}
	return -1
}

// fall is the largest step back between two samples of a rise: from the highest
// so far down to a later one.
func (t Trace) fall(from, to int) (volts, at float64) {
	high := t.Values[from]
	for i := from; i <= to; i++ {
		high = max(high, t.Values[i])
		if d := high - t.Values[i]; d > volts {
			volts, at = d, t.Times[i]
		}
	}
	return volts, at
}

// lastOutside is the last sample from index i on that lies further than within
// from a level; i-1 when none does.
func (t Trace) lastOutside(level, within float64, i int) int {
	for k := len(t.Values) - 1; k >= i; k-- {
		if math.Abs(t.Values[k]-level) > within {
			return k
		}
	}
	return i - 1
}

// quantum is one count of the capture: as the file writes it, or the smallest
// step between samples, whichever is larger.
func (t Trace) quantum() float64 {
	least := math.Inf(1)
	for i := 1; i < len(t.Values); i++ {
		if d := math.Abs(t.Values[i] - t.Values[i-1]); d > 0 {
			least = min(least, d)
		}
	}
	if math.IsInf(least, 1) {
		least = 0
	}
	return max(t.Resolution, least)
}
