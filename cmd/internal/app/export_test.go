package app

import (
	"context"

	"steadyrail/capture"
)

// What tests look at alone.
var (
	HalfDone   = halfDone
	InjectedOn = injectedOn
	Lasting    = lasting
)

// The bounds of a trip.
const (
	TripTries = tripTries
	TripPause = tripPause
	TripWait  = tripWait
)

// Insist is insist with the bounds of a trip.
func Insist(ctx context.Context, try func(context.Context) error) error {
	return insist(ctx, tripTries, tripPause, try)
}

// Switcher is a switcher.
type Switcher struct{ switcher }

// Begin is begin.
func (s *Switcher) Begin() func(context.Context) error { return s.begin() }

// Do is do.
func (s *Switcher) Do(f func(context.Context)) bool { return s.do(f) }

// Claim is claim.
func (s *Switcher) Claim(output string) bool { return s.claim(output) }

// Free is free.
func (s *Switcher) Free(output string) { s.free(output) }

// FailuresSoFar is what a page counts of the soak in hand, or of the last.
func (a *App) FailuresSoFar(id string) (int, error) {
	j, err := a.job(id)
	if err != nil {
		return 0, err
	}
	soaks := j.book.Soaks()
	return j.fallsIn(capture.RegimenState{From: soaks[len(soaks)-1].From})
}
