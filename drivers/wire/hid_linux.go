//go:build !ppc64 && !ppc64le && !mips && !mipsle && !mips64 && !mips64le

package wire

import (
	"context"
	"fmt"
	"runtime"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// hidFeature is the request HIDIOCSFEATURE(length) of linux/hidraw.h, by the
// rule of asm-generic/ioctl.h: read and write, the length, the letter H, 6.
func hidFeature(length int) uintptr {
	return uintptr(3<<30 | uint32(length)<<16 | 'H'<<8 | 6)
}

// hidraw is a /dev/hidraw file.
type hidraw struct {
	fd    int
	ioctl func(fd int, request uintptr, report []byte) error
}

// dialHID finds the device and the kind of bridge that it is, and sets its line.
func dialHID(_ context.Context, a Address, l Line) (port, error) {
	path := a.Path
	if a.VID != "" {
		var err error
		if path, err = findUSB(a); err != nil {
			return nil, err
		}
	}
	if noFile(path) {
		return nil, explainOpen(path, unix.ENOENT)
	}
	kind, err := bridgeOf(a.Bridge, idsAt(a, path))
	if err != nil {
		return nil, fmt.Errorf("open %s: %w: %w", a, ErrAddress, err)
	}
	return openHID(path, kind, l)
}

// idsAt returns VID:PID of what lies at a path.
func idsAt(a Address, path string) string {
	if a.VID != "" {
		return a.VID + ":" + a.PID
	}
	list, _ := found() // without the list it is not known, and the message says so
	for _, p := range list {
		if p.Kind == KindHID && p.Name == path {
			return p.VID + ":" + p.PID
		}
	}
	return path
}

func openHID(path string, b bridge, l Line) (port, error) {
	// The kernel hands each report to every program that has the file open, and
	// lets all of them set the line.
	if who := holder(path); who != "" {
		return nil, busy(path)
	}
	fd, err := unix.Open(path, unix.O_RDWR|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	if err != nil {
		return nil, explainOpen(path, err)
	}
	p, err := newHID(path, &hidraw{fd, ioctlBytes}, b, l)
	if err != nil {
		_ = unix.Close(fd)
		return nil, err
	}
	return p, nil
}

func ioctlBytes(fd int, request uintptr, report []byte) error {
	_, _, e := unix.Syscall(unix.SYS_IOCTL, uintptr(fd), request, uintptr(unsafe.Pointer(&report[0])))
	runtime.KeepAlive(report)
	if e != 0 {
		return e
	}
	return nil
}

func (h *hidraw) read(p []byte, d time.Duration) (int, error) {
	ready, err := h.wait(unix.POLLIN, d)
	if !ready || err != nil {
		return 0, err
	}
	n, err := unix.Read(h.fd, p)
	if err == unix.EAGAIN || err == unix.EINTR {
		return 0, nil
	}
	return gotReport(n, err)
}

// wait is true when there is something to do or to be told, an error included.
func (h *hidraw) wait(what int16, d time.Duration) (bool, error) {
	fds := []unix.PollFd{{Fd: int32(h.fd), Events: what}}
	n, err := unix.Poll(fds, int((d+time.Millisecond-1)/time.Millisecond))
	if err == unix.EINTR {
		return false, nil
	}
	return n > 0, err
}

func (h *hidraw) write(report []byte) error {
	n, err := unix.Write(h.fd, report)
	if err == nil && n < len(report) {
		err = fmt.Errorf("the system took %d of %d bytes", n, len(report))
	}
	return err
}

func (h *hidraw) feature(report []byte) error {
	return h.ioctl(h.fd, hidFeature(len(report)), report)
}

func (h *hidraw) close() error { return unix.Close(h.fd) }
