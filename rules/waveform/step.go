package waveform

import (
	"fmt"
	"math"
)

// Step is how a rail answers to one step of its load, by magnitude.
type Step struct {
	Before, After float64 // V, the levels
	Least, Most   float64 // V, the extremes from the step on
	At            float64 // s, when it left the level before by more than Within
	Recovery      float64 // s from there until it stays within Within of the level after; +Inf: never
	Within        float64 // V
	Swings        int     // how often it crosses the level after from the step on, until it is settled
	Seen          bool    // it left the level before by more than the ripple there
	Quiet         Ripple  // before the step
}

// Away is the largest distance from the level before the step, in volt.
func (s Step) Away() float64 { return max(s.Before-s.Least, s.Most-s.Before) }

// Step works out an answer to a load step. The first twentieth of the capture
// must lie before the step and the last tenth be settled; of several steps the
// time to the last return is told. The error wraps [ErrShape].
func (t Trace) Step(within float64) (Step, error) {
	if err := t.Check(); err != nil {
		return Step{}, err
	}
	n := len(t.Values)
	lead, tail := t.Part(0, max(fewest/2, n/20)), t.Part(n-max(fewest/2, n/10), n)
	s := Step{Within: within, Quiet: lead.Ripple(), After: tail.Ripple().Mean}
	s.Before = s.Quiet.Mean
	half := len(tail.Values) / 2
	if drift := tail.Part(half, len(tail.Values)).Ripple().Mean - tail.Part(0, half).Ripple().Mean; math.Abs(drift) > within {
		return s, fmt.Errorf("%w: its end is not settled: capture for longer", ErrShape)
	}
	s.Least, s.Most = ends(t.Values[len(lead.Values):])
	s.Seen = s.Away() > max(s.Quiet.Peak, t.quantum(), float64(1e-9*math.Abs(s.Before)))
	left := t.firstOutside(s.Before, within, 0)
	if left < 0 {
		return s, nil
	}
	s.At = t.Times[left]
	last := t.lastOutside(s.After, within, left)
	switch {
	case last == n-1:
		s.Recovery = math.Inf(1)
	case last >= left:
		s.Recovery = t.Times[last+1] - s.At
	}
	above := t.Values[left] > s.After
	for i := left; i <= last; i++ {
		if now := t.Values[i] > s.After; now != above {
			above = now
			s.Swings++
		}
	}
	return s, nil
}

// firstOutside is the first sample from index i on further than within from a
// level; -1: none.
func (t Trace) firstOutside(level, within float64, i int) int {
	for ; i < len(t.Values); i++ {
		if math.Abs(t.Values[i]-level) > within {
			return i
		}
	}
	return -1
}

// Swing is what a steady level swings between.
type Swing struct {
	Ripple
	Least, Most float64 // V
}

// Steady works out ripple and extremes of a level. The error wraps [ErrShape].
func (t Trace) Steady() (Swing, error) {
	if err := t.Check(); err != nil {
		return Swing{}, err
	}
	s := Swing{Ripple: t.Ripple()}
	s.Least, s.Most = ends(t.Values)
	return s, nil
}
