// Package discharge judges the emptying of a capacitor through a resistor: the
// card beforehand (how long, how much heat), the watch while it falls (is it
// falling as R and C say), and what was proved at the end.
//
// It promises the same answer for the same records on every architecture, and
// never to say that something is safe: it says what was measured, below which
// level, for how long, and by which meter that was proved before and after.
//
// A [Watch] is a sink of a job's records and safe for concurrent use.
package discharge
