// Package live keeps the bench as it is now, for screens and metrics.
//
// A [Table] is a bench-wide sink of the bus. It holds the newest reading of
// every channel, the newest volts and ohms filed under every rail, a quarter of
// an hour of each channel in pieces of five seconds, and the stage, soak,
// entries and alarms of every open job. It promises:
//
//   - Taking a record is a short computation under a short lock; nobody who
//     looks can delay the measuring.
//   - [Table.Snapshot] is a deep copy: its taker may do with it what it likes.
//   - Memory is bounded by channels, rails and what people did, not by time,
//     readings or the number of those who watch. A watcher that stops costs
//     nothing.
//   - A reading stands under a rail only if the record says so; when a placement
//     is corrected, what was filed by it moves.
//
// A job appears with its first sheet and vanishes with its closing; its history
// is in the store. All methods are safe for concurrent use. The application
// makes the table; screens and metrics read it.
package live
