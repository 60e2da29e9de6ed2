//go:build !unix

package cli

import (
	"io"
	"os"
)

// terminalColumns is the usual width where w is a character device; 0 elsewhere.
func terminalColumns(w io.Writer) int {
	f, ok := under(w).(*os.File)
	if !ok {
		return 0
	}
	if info, err := f.Stat(); err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return 0
	}
	return columns
}
