package wire

import (
	"runtime"
	"syscall"
	"testing"
)

// asNobody runs f without the rights of root, if the test has them: root may
// open what is busy or not its own. Only this thread changes.
func asNobody(t *testing.T, f func()) {
	t.Helper()
	if syscall.Getuid() != 0 {
		f()
		return
	}
	runtime.LockOSThread()
	become := func(what, id uintptr) {
		const keep = ^uintptr(0)
		if _, _, e := syscall.RawSyscall(what, keep, id, keep); e != 0 {
			t.Fatalf("change user: %v", e)
		}
	}
	become(syscall.SYS_SETRESGID, 65534)
	become(syscall.SYS_SETRESUID, 65534)
	defer func() {
		become(syscall.SYS_SETRESUID, 0)
		become(syscall.SYS_SETRESGID, 0)
		runtime.UnlockOSThread()
	}()
	f()
}
