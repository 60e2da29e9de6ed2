//go:build unix

package wire

import "testing"

// BareQuery and FarEnd let the benchmark in the outer test package use the same
// baseline and the same far end.
func BareQuery(b *testing.B) func() error { return bareQuery(openBare(b, startFarEnd(b, 0))) }

// FarEnd starts a far end and returns its device.
func FarEnd(tb testing.TB) string { return startFarEnd(tb, 0) }

// Measured runs an exchange b.N times and reports its processor time.
func Measured(b *testing.B, exchange func() error) { b.Helper(); measure(b, exchange) }
