// Package capture holds the words that every room of steadyrail speaks:
// quantities and units, rails, instruments and channels, placements,
// readings, acts, alarms, verdicts, and the one ordered log they form.
//
// The log of a job is a sequence of [Record] values, strictly increasing in
// [Instant]. It is the only input of judgement: the same records give the same
// alarms, live or years later from the file. Ticks are not stored; they lie on
// a fixed grid between records and are made again by [Ticks].
//
// The package imports nothing of ours, starts no goroutine and reads no clock.
// All types are plain values; the folds ([Placements]) are not safe
// for concurrent use.
//
// Inside the house values are float64 in the base SI unit. Prefixes, decimal
// commas and digit counts exist only where people or instruments read and
// write, and only here.
package capture
