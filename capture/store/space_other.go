//go:build !linux && !darwin && !windows

package store

import (
	"errors"
	"fmt"
)

// FreeSpace cannot tell here: the error wraps [errors.ErrUnsupported].
func FreeSpace(dir string) (int64, error) {
	return 0, fmt.Errorf("ask how much room there is in %s: %w", dir, errors.ErrUnsupported)
}
