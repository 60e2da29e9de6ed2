//go:build !unix

package wire

import "time"

const (
	// glanceTime: a total time-out of zero means "for ever" to some adapters'
	// drivers on Windows.
	glanceTime = time.Millisecond
	// inPlace: a write on Windows comes back when the characters have left, and
	// may hang for any of them.
	inPlace = 0
)

// noFile is not known here: devices are no files.
func noFile(string) bool { return false }
