package comparison

import (
	"time"

	"golang.org/x/sys/unix"
)

// pauseFor sleeps in the kernel. A sleep of Go's runtime wakes other threads,
// which there is no processor for.
func pauseFor(d time.Duration) {
	left := unix.NsecToTimespec(int64(d))
	for unix.Nanosleep(&left, &left) == unix.EINTR {
	}
}

// giveWay lets whatever else waits for this processor have it. Gosched of the
// runtime would let only its own goroutines have it.
func giveWay() { _, _, _ = unix.RawSyscall(unix.SYS_SCHED_YIELD, 0, 0, 0) }
