//go:build unix

package cli

import (
	"io"
	"os"

	"golang.org/x/sys/unix"
)

// terminalColumns is the width of the terminal that w is; 0: it is none, or its
// width is not known.
func terminalColumns(w io.Writer) int {
	f, ok := under(w).(*os.File)
	if !ok {
		return 0
	}
	size, err := unix.IoctlGetWinsize(int(f.Fd()), unix.TIOCGWINSZ)
	if err != nil {
		return 0
	}
	return int(size.Col)
}
