//go:build !windows

package cli

import (
	"os"
	"os/signal"

	"golang.org/x/sys/unix"
)

// hangups gives the hangups that come until end is called: what asks a daemon to
// read its configuration again.
func hangups() (_ <-chan os.Signal, end func()) {
	c := make(chan os.Signal, 1)
	signal.Notify(c, unix.SIGHUP)
	return c, func() { signal.Stop(c) }
}
