package notify

import (
	"os/exec"
	"syscall"
)

// inherited are the variables of the daemon's environment that a command gets:
// on Windows programs do not start without the system's own folders.
var inherited = []string{"PATH", "PATHEXT", "SystemRoot", "TEMP", "TMP"}

// alone starts the command in a group of its own, so that a key pressed at the
// daemon does not reach it. A time-out ends the command itself; what it started
// is left to it.
func alone(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP, HideWindow: true}
}
