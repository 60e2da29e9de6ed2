//go:build unix

package notify

import (
	"os/exec"
	"syscall"
)

// inherited are the variables of the daemon's environment that a command gets.
var inherited = []string{"PATH"}

// alone puts the command into a process group of its own; a time-out ends the
// whole group.
func alone(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	cmd.Cancel = func() error { return syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
}
