package app

import "golang.org/x/sys/unix"

// synchronised asks the kernel whether a time server keeps the clock: it is
// unsynchronised until one has, and again when it has not for long
// (adjtimex(2), STA_UNSYNC).
func synchronised() (yes, known bool) {
	var t unix.Timex
	if _, err := unix.Adjtimex(&t); err != nil {
		return false, false
	}
	return t.Status&unix.STA_UNSYNC == 0, true
}
