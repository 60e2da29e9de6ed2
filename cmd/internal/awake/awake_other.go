//go:build !linux && !darwin && !windows

package awake

// Inhibit says that it cannot.
func Inhibit(string) (release func(), err error) { return nil, ErrCannot }
