// Package trend tells how a series of readings moves: moments in one pass,
// how many readings count as independent, medians, slopes with an honest
// interval, and how far a warm-up still has to go.
//
// It promises numbers that are the same on one architecture for the same
// series, products rounded before they are added, and no NaN out of finite
// readings: what cannot be told is said by a flag or a false. Nothing here
// starts a goroutine, reads a clock or is safe for concurrent use. The package
// knows only capture; rules and their kinds call it.
package trend
