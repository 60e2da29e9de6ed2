//go:build unix

package sim

import (
	"os"

	"golang.org/x/sys/unix"
)

// canLock: see [ClearLeftovers].
const canLock = true

// lock takes the file for this process, or fails at once. The lock ends with the
// process, however that ends.
func lock(f *os.File) error { return unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB) }
