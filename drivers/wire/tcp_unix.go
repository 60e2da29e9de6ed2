//go:build unix

package wire

import (
	"errors"
	"io"
	"syscall"
)

// glance reads past the poller: Go's sockets never block.
func (p *tcpPort) glance(b []byte) (n int, err error) {
	raw, err := p.conn.SyscallConn()
	if err != nil {
		return 0, err
	}
	var failed error
	err = raw.Control(func(fd uintptr) { n, failed = syscall.Read(int(fd), b) })
	switch {
	case err != nil:
		return 0, err
	case errors.Is(failed, syscall.EAGAIN), errors.Is(failed, syscall.EINTR):
		return 0, nil
	case failed != nil:
		return 0, failed
	case n == 0:
		return 0, io.EOF
	}
	return n, nil
}
