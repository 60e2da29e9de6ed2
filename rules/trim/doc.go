// Package trim follows rails under the screwdriver: how far each is from where
// it should be, which way the screw goes, what a touch of it is worth, and what
// fitting a converter and loading it did.
//
// A touch is a step between two steady stretches. What a turn is worth is known
// only when turns were typed or the trimmer was declared: a touch by itself says
// no more than what it moved. Slack shows at a reversal, and so does a blade whose
// capacitance and pressure disturb: its step comes back when it is lifted.
//
// [Fold] takes a job's records in order and nothing else: no clock, the same
// records give the same words. It is not safe for concurrent use. Volts are
// compared by magnitude, so that "up" is away from zero on every rail. Limits of
// time and size that no source is named for are common practice.
package trim
