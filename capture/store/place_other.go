//go:build !linux && !darwin && !windows

package store

// networkFileSystem cannot tell here.
func networkFileSystem(string) string { return "" }
