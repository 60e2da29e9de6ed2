// Package waveform works out the shape of an oscilloscope's capture of a rail:
// how it starts, how it answers to a step of its load, how it ripples.
//
// The terms are those of IEEE 181 (from memory): the low and the high state of a
// transition, levels in per cent between them, the transition duration from 10 to
// 90 %, overshoot and undershoot as aberrations in per cent of the amplitude.
// States are found by the histogram's modes (IEEE 181, from memory).
//
// What a capture cannot show is said, not made up: its bandwidth and the
// accuracy of its volts stand in no file. Figures are taken in the bandwidth
// that the capture has, whatever that is, and lie between two samples in time.
//
// The package computes, keeps nothing and is safe for concurrent use.
package waveform
