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

// The requests of the kernel's driver, by the rule of asm-generic/ioctl.h from
// the numbers in linux/usb/tmc.h (facts; a test compares them with the values
// that the header gives).
const (
	tmcClear      = tmcLetter | 2
	tmcGetTimeout = ioctlRead | 4<<16 | tmcLetter | 9
	tmcSetTimeout = ioctlWrite | 4<<16 | tmcLetter | 10
	tmcAttributes = ioctlRead | 1<<16 | tmcLetter | 24

	tmcLetter  = 91 << 8
	ioctlWrite = 1 << 30
	ioctlRead  = 2 << 30
)

// tmcFile is a /dev/usbtmc file. It is not an os.File: that one would make it
// wait in the poller, and this driver has its own time-out.
type tmcFile struct{ fd int }

func dialUSBTMC(_ context.Context, a Address, l Line) (port, error) {
	path := a.Path
	if a.VID != "" {
		var err error
		if path, err = findUSB(a); err != nil {
			return nil, err
		}
	}
	// The driver lets several programs open one instrument, and each would read
	// the other's answers.
	if who := holder(path); who != "" {
		return nil, busy(path)
	}
	fd, err := unix.Open(path, unix.O_RDWR|unix.O_CLOEXEC, 0)
	if err != nil {
		return nil, explainOpen(path, err)
	}
	f := tmcFile{fd}
	if _, err := f.attribute(tmcGetTimeout); err == unix.ENOTTY {
		_ = unix.Close(fd)
		return nil, fmt.Errorf("open %s: %w: this is no USB test instrument (USBTMC), or the kernel is older than 4.6", path, ErrNoPort)
	}
	return newTMC(f, l), nil
}

func (f tmcFile) read(p []byte) (int, error) {
	n, err := unix.Read(f.fd, p)
	return max(n, 0), err
}

// write hands the message over in one piece: the driver marks the end of each
// write as the end of a message.
func (f tmcFile) write(p []byte) error {
	n, err := unix.Write(f.fd, p)
	if err == nil && n < len(p) {
		err = fmt.Errorf("the system took %d of %d bytes", n, len(p))
	}
	return err
}

func (f tmcFile) setTimeout(d time.Duration) error {
	ms := uint32(d.Milliseconds())
	return f.request(tmcSetTimeout, unsafe.Pointer(&ms))
}

func (f tmcFile) endOfMessage() (end, known bool) {
	v, err := f.attribute(tmcAttributes)
	return v&1 != 0, err == nil
}

func (f tmcFile) clear() error { return f.request(tmcClear, nil) }

func (f tmcFile) there() error {
	_, err := f.attribute(tmcGetTimeout)
	return err
}

func (f tmcFile) close() error { return unix.Close(f.fd) }

// attribute reads a value of up to four bytes.
func (f tmcFile) attribute(what uintptr) (byte, error) {
	var v [4]byte // both attributes that are looked at lie in one byte on every system
	err := f.request(what, unsafe.Pointer(&v))
	return v[0], err
}

func (f tmcFile) request(what uintptr, arg unsafe.Pointer) error {
	_, _, e := unix.Syscall(unix.SYS_IOCTL, uintptr(f.fd), what, uintptr(arg))
	runtime.KeepAlive(arg)
	if e != 0 {
		return e
	}
	return nil
}
