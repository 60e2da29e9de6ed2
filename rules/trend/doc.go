// Package trend tells how a series of readings moves: moments in one pass,
// how many readings count as independent, medians and quantiles, slopes with an
// honest interval, over which time averaging helps, whether a level has shifted,
// and how far a warm-up still has to go.
//
// What takes readings one by one ([Moments], [Correlogram], [Sketch], [Cusum],
// [Ewma], [SlidingMedian], [Cells]) keeps bounded memory, and all but the
// median's window the same work for a reading on average; [Cells] thins a
// stream of any length for what wants a series ([BlockDrift], [Settle],
// [Foretell], [MannKendallCorrelated], [StabilitySweep]); a [Survey] tells all of it.
//
// It promises numbers that are the same on every architecture for the same
// series, products rounded before they are added and the exponential and the
// logarithm of capture/elementary, and no NaN out of finite readings: what cannot be told is
// said by a flag or a false. Only the p of [Kendall], from the library's error
// function, may differ in the last digit. Nothing here starts a goroutine, reads a
// clock or is safe for concurrent use. The package knows only capture; rules and
// their kinds call it.
package trend
