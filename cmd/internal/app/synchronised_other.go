//go:build !linux

package app

// synchronised is not known on this system.
func synchronised() (yes, known bool) { return false, false }
