//go:build unix

package wire

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"go.bug.st/serial"
)

func openError(t *testing.T, path string) error {
	t.Helper()
	c, err := Open(bg, Address{Kind: KindSerial, Path: path}, quick())
	if err == nil {
		_ = c.Close()
		t.Fatalf("%s was opened", path)
	}
	return err
}

func TestOpenMissing(t *testing.T) {
	err := openError(t, filepath.Join(t.TempDir(), "ttyUSB9"))
	if !errors.Is(err, ErrNoPort) || !strings.Contains(err.Error(), "steadyrail ports") {
		t.Fatalf("got %v", err)
	}
}

func TestOpenNoSerialPort(t *testing.T) {
	path := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := openError(t, path); !errors.Is(err, ErrNoPort) || !strings.Contains(err.Error(), "no serial port") {
		t.Fatalf("got %v", err)
	}
}

func TestOpenBusyAndDenied(t *testing.T) {
	f := plug(t, write("1\n"))
	conn := openTest(t, f.device, quick())
	if err := os.Chmod(f.device, 0o666); err != nil {
		t.Fatal(err)
	}
	asNobody(t, func() {
		err := openError(t, f.device)
		if !errors.Is(err, ErrBusy) || !strings.Contains(err.Error(), "stop that first") {
			t.Errorf("busy: got %v", err)
		}
	})
	if got, err := conn.Query(bg, "A?"); got != "1" {
		t.Fatalf("the holder was disturbed: %q, %v", got, err)
	}
	if err := conn.Close(); err != nil {
		t.Fatal(err)
	}
	if os.Getuid() != 0 {
		return // one's own terminal cannot be denied
	}
	for perm, says := range map[os.FileMode]string{0o660: "usermod -aG", 0o600: "device rules"} {
		if err := os.Chmod(f.device, perm); err != nil {
			t.Fatal(err)
		}
		asNobody(t, func() {
			err := openError(t, f.device)
			if !errors.Is(err, ErrDenied) || !strings.Contains(err.Error(), says) {
				t.Errorf("denied, mode %o: got %v", perm, err)
			}
		})
	}
}

// TestExplainOpen holds every way in which opening fails against its sentinel.
func TestExplainOpen(t *testing.T) {
	for _, c := range []struct {
		err  error
		want error
	}{
		{syscall.ENOENT, ErrNoPort},
		{fs.ErrNotExist, ErrNoPort},
		{syscall.ENXIO, ErrNoPort},
		{syscall.ENODEV, ErrNoPort},
		{syscall.EIO, ErrNoPort},
		{syscall.EACCES, ErrDenied},
		{syscall.EBUSY, ErrBusy},
		{io.ErrUnexpectedEOF, ErrNoPort},
		{&serial.PortError{}, ErrBusy}, // its code zero is PortBusy
	} {
		if got := explainOpen("/dev/ttyUSB0", c.err); !errors.Is(got, c.want) {
			t.Errorf("%v: got %v, want %v", c.err, got, c.want)
		}
	}
}

// TestFirstReadOfAGonePort: the port vanished between opening and reading.
func TestFirstReadOfAGonePort(t *testing.T) {
	f := plug(t, nil)
	p, err := openSerial(f.device, DefaultLine())
	if err != nil {
		t.Fatal(err)
	}
	defer p.close()
	f.unplug()
	if err := p.(*serialPort).firstRead(); !errors.Is(err, ErrGone) {
		t.Fatalf("got %v", err)
	}
}
