package wire

import (
	"os"

	"golang.org/x/sys/unix"
)

// waiting tells how many bytes lie unread in a terminal.
func waiting(f *os.File) (int, error) { return unix.IoctlGetInt(int(f.Fd()), unix.TIOCINQ) }
