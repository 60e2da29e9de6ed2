//go:build linux || darwin

package cli

import (
	"os"

	"golang.org/x/sys/unix"
)

// makeRaw has a terminal hand every key on at once, unseen (cfmakeraw of
// termios(3), but output stays as it is).
func makeRaw(f *os.File) (restore func(), err error) {
	fd := int(f.Fd())
	before, err := unix.IoctlGetTermios(fd, getTermios)
	if err != nil {
		return nil, err
	}
	raw := *before
	raw.Iflag &^= unix.BRKINT | unix.ICRNL | unix.INPCK | unix.ISTRIP | unix.IXON
	raw.Lflag &^= unix.ECHO | unix.ICANON | unix.IEXTEN | unix.ISIG
	raw.Cc[unix.VMIN], raw.Cc[unix.VTIME] = 1, 0
	if err := unix.IoctlSetTermios(fd, setTermios, &raw); err != nil {
		return nil, err
	}
	return func() { _ = unix.IoctlSetTermios(fd, setTermios, before) }, nil
}
