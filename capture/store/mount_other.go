//go:build !linux && !darwin

package store

// mountType cannot tell here.
func mountType(string) string { return "" }
