package awake

import (
	"fmt"
	"os"
	"os/exec"
	"strconv"
)

// Inhibit starts the system's caffeinate, which keeps idle and system sleep away
// as long as it runs (its manual page: -i idle, -s system on mains, -w ends with
// that process). It ends with release, and with this program in any case.
func Inhibit(string) (release func(), err error) {
	c := exec.Command("/usr/bin/caffeinate", "-i", "-s", "-w", strconv.Itoa(os.Getpid()))
	if err := c.Start(); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrCannot, err)
	}
	return func() { _, _ = c.Process.Kill(), c.Wait() }, nil
}
