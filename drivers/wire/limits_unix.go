//go:build unix

package wire

import (
	"errors"
	"io/fs"
	"os"
	"time"
)

const (
	// glanceTime is no wait at all.
	glanceTime time.Duration = 0
	// inPlace is how many unanswered bytes fit the smallest output buffer.
	inPlace = chunk
)

// noFile reports whether a device file is gone.
func noFile(path string) bool {
	_, err := os.Stat(path)
	return errors.Is(err, fs.ErrNotExist)
}
