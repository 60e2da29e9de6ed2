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

	mu        sync.Mutex
	master    *os.File // nil: unplugged
	slave     int      // held as long as the master
	handedOut bool
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
	far, near, err := pty.Open()
	if err != nil {
		return fmt.Errorf("serve simulated instrument: open pseudo-terminal: %w", err)
	}
	device := near.Name()
	master, err := pollable(far)
	slave, unheld := unwatched(near)
	if err = errFirst(err, unheld); err == nil {
		err = errFirst(makeRaw(slave), relink(device, t.name))
	}
	if err != nil {
		master.Close()
		unix.Close(slave)
		return fmt.Errorf("serve simulated instrument: %w", err)
	}
	t.master, t.slave, t.handedOut = master, slave, false
	return nil
}

// unwatched closes a file and returns a descriptor of it that Go's runtime does
// not watch: of the slave it would wake a thread for every character that passes.
func unwatched(f *os.File) (fd int, err error) {
	defer f.Close()
	return unix.FcntlInt(f.Fd(), unix.F_DUPFD_CLOEXEC, 0)
}

// pollable hands the master to the runtime's poller. As it comes, a read blocks
// in the kernel, and Close would wait for it for ever.
func pollable(blocking *os.File) (*os.File, error) {
	fd, err := unwatched(blocking)
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
func makeRaw(fd int) error {
	tio, err := unix.IoctlGetTermios(fd, getTermios)
	if err != nil {
		return err
	}
	tio.Iflag &^= unix.IGNBRK | unix.BRKINT | unix.PARMRK | unix.ISTRIP | unix.INLCR | unix.IGNCR | unix.ICRNL | unix.IXON
	tio.Oflag &^= unix.OPOST
	tio.Lflag &^= unix.ECHO | unix.ECHONL | unix.ICANON | unix.ISIG | unix.IEXTEN
	tio.Cflag = tio.Cflag&^(unix.CSIZE|unix.PARENB) | unix.CS8
	tio.Cc[unix.VMIN], tio.Cc[unix.VTIME] = 1, 0
	return unix.IoctlSetTermios(fd, setTermios, tio)
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
	unix.Close(t.slave)
	t.master.Close()
	t.master = nil
}

func (t *terminal) link() string { return "serial:" + t.name }
