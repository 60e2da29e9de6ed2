package wire

import (
	"errors"
	"net"
	"os"
	"strings"
	"syscall"
	"testing"
)

// What a socket says has the same words on every system: each number of Windows
// is told as the one of here.
func TestDialErrorsHaveTheSameWordsEverywhere(t *testing.T) {
	said := func(no syscall.Errno) string {
		err := explainDial("tcp:bench:5025", &net.OpError{Op: "dial", Net: "tcp", Err: os.NewSyscallError("connectex", no)})
		if !errors.Is(err, ErrNoPort) {
			t.Errorf("%d: %v is no %v", no, err, ErrNoPort)
		}
		return err.Error()
	}
	for _, c := range []struct {
		here, windows syscall.Errno
		want          string
	}{
		{syscall.ECONNREFUSED, 10061, "switch the instrument's remote control on"},
		{syscall.EHOSTUNREACH, 10065, "this computer knows no way there"},
		{syscall.ENETUNREACH, 10051, "this computer knows no way there"},
		{syscall.ETIMEDOUT, 10060, "no answer: is it on, and in this network?"},
	} {
		here, windows := said(c.here), said(c.windows)
		if here != windows || !strings.Contains(here, c.want) {
			t.Errorf("%d and %d: %q and %q, want %q", c.here, c.windows, here, windows, c.want)
		}
	}
	if other := said(syscall.EACCES); strings.Contains(other, "is it on") || strings.Contains(other, "listens") {
		t.Errorf("another error: %q", other)
	}
}
