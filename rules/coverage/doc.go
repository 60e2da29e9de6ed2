// Package coverage tells how well a channel watched a rail, and what clean
// hours prove: how much of the time the meter really looked, which dips it
// could have missed, and the bound that a soak puts on the rate of failures.
//
// It promises to claim no more than was seen: the shortest dip that cannot have
// been missed follows from the longest gap that really occurred, an aperture
// that is not known gives no chances, and a bound is a bound. Nothing here
// reads a clock, starts a goroutine or is safe for concurrent use. The package
// knows only capture; rules call it.
package coverage
