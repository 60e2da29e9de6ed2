package sim

import (
	"time"

	"golang.org/x/sys/unix"
)

const canNap = true

// doze sleeps by the system's clock. A signal may cut it short.
func doze(d time.Duration) {
	t := unix.NsecToTimespec(d.Nanoseconds())
	_ = unix.Nanosleep(&t, nil) // an interrupted nap is a short one
}
