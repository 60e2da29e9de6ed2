// Package store keeps the record of jobs: one SQLite file for each job, and a
// small index of the bench, in a workspace folder that one daemon holds.
//
// What it promises:
//
//   - Measuring never waits for the disk. [Job.Consume] appends to a queue in
//     memory; the job's one writer commits once a second, and at once when an
//     alarm changes. While the disk is full or fails, the queue grows to a
//     million readings; then the newest whole seconds are dropped and a
//     [capture.Gap] says so in the record.
//   - What was committed survives kill -9 and power loss: write-ahead log,
//     synchronous FULL, both checked after opening. At most the last second is
//     missing, and [Workspace.Open] marks the time since as a gap.
//   - Nothing is thinned or rounded: every float64 keeps its bits, every text
//     its bytes, every record its place.
//   - Each commit's logical records are hashed into a chain, from the stored
//     records upwards; [Job.Verify] says where it first breaks.
//   - Reading takes slices of far less than a second, so that a report never
//     holds a checkpoint back; only verifying and a backup look at the whole file
//     at once.
//
// The bus hands a record to the store before the rules judge it, so that a
// transition stands behind the record that caused it: attach the job first.
//
// The file explains itself in its table "spec" (spec.txt here). The application
// opens the workspace; screens, reports and replay read through [Job]; a command
// that finds no daemon reads a single file with [OpenFile].
package store
