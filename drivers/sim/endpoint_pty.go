//go:build linux || darwin

package sim

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
)

// terminal is an instrument on a pseudo-terminal, found under a symbolic link
// that stays when the terminal is made anew.
type terminal struct {
	name string // of the symbolic link

	mu            sync.Mutex
	master, slave *os.File
	handedOut     bool
}

func newEndpoint(dir, name string, tcp bool) endpoint {
	if tcp {
		return &tcpPort{}
	}
	return &terminal{name: filepath.Join(dir, name)}
}

// plug makes a terminal in raw mode. The slave side stays open here, so that
// clients may come and go without the master seeing the end of the file.
func (t *terminal) plug() error {
	t.mu.Lock()
	defer t.mu.Unlock()
	master, slave, err := pty.Open()
	if err != nil {
		return fmt.Errorf("serve simulated instrument: open pseudo-terminal: %w", err)
	}
	master, err = pollable(master)
	if err == nil {
		err = errFirst(makeRaw(slave), relink(slave.Name(), t.name))
	}
	if err != nil {
		master.Close()
		slave.Close()
		return fmt.Errorf("serve simulated instrument: %w", err)
	}
	t.master, t.slave, t.handedOut = master, slave, false
	return nil
}

// pollable hands the master to the runtime's poller. As it comes, a read blocks
// in the kernel, and Close would wait for it for ever.
func pollable(blocking *os.File) (*os.File, error) {
	defer blocking.Close()
	fd, err := unix.FcntlInt(blocking.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		return nil, err
	}
	if err := unix.SetNonblock(fd, true); err != nil {
		unix.Close(fd)
		return nil, err
	}
	return os.NewFile(uintptr(fd), blocking.Name()), nil
}

func errFirst(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// relink points the link at the device in one step: there is no moment at
// which it is half made.
func relink(device, name string) error {
	next := name + ".next"
	os.Remove(next)
	if err := os.Symlink(device, next); err != nil {
		return err
	}
	return os.Rename(next, name)
}

// makeRaw takes echo, line editing and translation off.
func makeRaw(f *os.File) error {
	raw, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var inner error
	err = raw.Control(func(fd uintptr) {
		var tio *unix.Termios
		if tio, inner = unix.IoctlGetTermios(int(fd), getTermios); inner != nil {
			return
		}
		tio.Iflag &^= unix.IGNBRK | unix.BRKINT | unix.PARMRK | unix.ISTRIP | unix.INLCR | unix.IGNCR | unix.ICRNL | unix.IXON
		tio.Oflag &^= unix.OPOST
		tio.Lflag &^= unix.ECHO | unix.ECHONL | unix.ICANON | unix.ISIG | unix.IEXTEN
		tio.Cflag = tio.Cflag&^(unix.CSIZE|unix.PARENB) | unix.CS8
		tio.Cc[unix.VMIN], tio.Cc[unix.VTIME] = 1, 0
		inner = unix.IoctlSetTermios(int(fd), setTermios, tio)
	})
	return errFirst(err, inner)
}

func (t *terminal) accept() (io.ReadWriter, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.master == nil || t.handedOut {
		return nil, errUnplugged
	}
	t.handedOut = true
	// Without Close: unplug alone closes the descriptors.
	return struct {
		io.Reader
		io.Writer
	}{t.master, t.master}, nil
}

// unplug takes the device and its name away, as pulling the cable of an
// adapter does: whoever has it open gets an error.
func (t *terminal) unplug() {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.master == nil {
		return
	}
	os.Remove(t.name)
	t.slave.Close()
	t.master.Close()
	t.master, t.slave = nil, nil
}

func (t *terminal) link() string { return "serial:" + t.name }
