//go:build unix

package store

import (
	"os"
	"os/exec"
	"testing"
	"time"
)

// Between taking the lock that a killed daemon left and writing its own name,
// a daemon is not taken for the dead one: its address leads nowhere.
func TestReadLockWaitsForTheLiving(t *testing.T) {
	dead := exec.Command(os.Args[0], "-test.run=^$")
	if err := dead.Run(); err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	l, err := takeLock(folder, Holder{PID: dead.Process.Pid, Address: "127.0.0.1:1"})
	if err != nil {
		t.Fatal(err)
	}
	defer l.release()
	said := time.AfterFunc(3*lockPause, func() {
		l.mu.Lock()
		defer l.mu.Unlock()
		l.holder = Holder{PID: os.Getpid(), Address: "127.0.0.1:2"}
		_ = l.write()
	})
	defer said.Stop()
	if h, err := ReadLock(folder); err != nil || h.Address != "127.0.0.1:2" {
		t.Errorf("%+v, %v", h, err)
	}
}
