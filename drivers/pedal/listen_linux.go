package pedal

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Requests of linux/input.h, built as asm-generic/ioctl.h does: direction, size,
// type 'E', number. amd64, arm64 and arm have the generic ones.
const (
	write = 1
	read  = 2
)

func request(direction, number, size uintptr) uintptr {
	return direction<<30 | size<<16 | uintptr('E')<<8 | number
}

func reqName(size uintptr) uintptr { return request(read, 0x06, size) } // EVIOCGNAME
func reqGrab() uintptr             { return request(write, 0x90, 4) }   // EVIOCGRAB

const retryEvery = 2 * time.Second

// nameOf asks an open device who it is.
func nameOf(f *os.File) (string, error) {
	b := make([]byte, 256)
	n, err := ask(f, reqName(uintptr(len(b))), b)
	if err != nil {
		return "", err
	}
	s, _, _ := strings.Cut(string(b[:min(n, len(b))]), "\x00")
	return s, nil
}

// ask makes a request whose answer goes into b, and returns its length.
func ask(f *os.File, req uintptr, b []byte) (int, error) {
	n, errno := ioctl(f, req, uintptr(unsafe.Pointer(unsafe.SliceData(b))))
	if errno != 0 {
		return 0, errno
	}
	return n, nil
}

func ioctl(f *os.File, req, arg uintptr) (n int, errno unix.Errno) {
	c, err := f.SyscallConn()
	if err != nil {
		return 0, unix.EBADF
	}
	err = c.Control(func(fd uintptr) {
		var r uintptr
		r, _, errno = unix.Syscall(unix.SYS_IOCTL, fd, req, arg)
		n = int(r)
	})
	if err != nil {
		return 0, unix.EBADF
	}
	return n, errno
}

// Listen hands presses on until ctx ends. It finds the pedal by its identity,
// grabs it, and finds it again after it was unplugged. told hears what changes:
// nil when the pedal is there, else why it is not.
func Listen(ctx context.Context, c Config, press func(Press), told func(error)) {
	var said string
	for ctx.Err() == nil {
		err := once(ctx, c, press, func() { said = ""; told(nil) })
		if err != nil && ctx.Err() == nil && err.Error() != said {
			said = err.Error()
			told(err)
		}
		select {
		case <-ctx.Done():
		case <-time.After(retryEvery):
		}
	}
}

// ErrNone is wrapped when the pedal is not there.
var ErrNone = errors.New("the pedal is not plugged in")

// find returns the event device of the pedal.
func find(c Config) (string, error) {
	if strings.HasPrefix(c.Input, "/") {
		return c.Input, nil
	}
	found := named("/", c.Input)
	switch len(found) {
	case 0:
		return "", fmt.Errorf("%w: no input device is called %q; steadyrail ports lists them", ErrNone, c.Input)
	case 1:
		return found[0], nil
	}
	return "", fmt.Errorf("%d input devices are called %q: name one by its path under /dev/input/by-id or by-path", len(found), c.Input)
}

// once reads the pedal until it is gone.
func once(ctx context.Context, c Config, press func(Press), there func()) error {
	path, err := find(c)
	if err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_RDONLY|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	if err != nil {
		return fmt.Errorf("open the pedal: %w; this user needs a rule for this one device, or the group input", err)
	}
	defer f.Close()
	// The number may have gone to another device between the list and the opening.
	if name, err := nameOf(f); err == nil && !strings.HasPrefix(c.Input, "/") && name != c.Input {
		return fmt.Errorf("%w: %s says that it is %q", ErrNone, path, name)
	}
	if _, errno := ioctl(f, reqGrab(), 1); errno != 0 {
		return fmt.Errorf("grab the pedal at %s, so that its key does not type elsewhere: %w", path, errno)
	}
	there()
	end := context.AfterFunc(ctx, func() { _ = f.SetReadDeadline(time.Unix(1, 0)) })
	defer end()
	return follow(f, press)
}

// follow decodes until the end.
func follow(f *os.File, press func(Press)) error {
	d := Decoder{Word: int(unsafe.Sizeof(uintptr(0)))}
	var p Presses
	b := make([]byte, 64*size64)
	for {
		n, err := f.Read(b)
		if err != nil {
			return fmt.Errorf("read the pedal: %w", errors.Join(err, d.Close()))
		}
		for _, e := range d.Feed(b[:n]) {
			if one, ends := p.Take(e); ends {
				press(one)
			}
		}
	}
}
