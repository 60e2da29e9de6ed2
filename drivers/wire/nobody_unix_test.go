//go:build unix && !linux

package wire

import (
	"syscall"
	"testing"
)

func asNobody(t *testing.T, f func()) {
	t.Helper()
	if syscall.Getuid() == 0 {
		t.Skip("run this test as an ordinary user: root may open everything")
	}
	f()
}
