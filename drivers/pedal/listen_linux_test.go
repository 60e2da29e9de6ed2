package pedal

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// The requests as linux/input.h has them on machines whose ioctl numbers are the
// generic ones (amd64, arm64, arm), worked out with its macros.
func TestRequests(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want uintptr
	}{
		{"EVIOCGNAME(256)", reqName(256), 0x81004506},
		{"EVIOCGPHYS(256)", reqPhys(256), 0x81004507},
		{"EVIOCGUNIQ(256)", reqUniq(256), 0x81004508},
		{"EVIOCGBIT(0, 8)", reqBits(0, 8), 0x80084520},
		{"EVIOCGBIT(EV_KEY, 96)", reqBits(1, 96), 0x80604521},
		{"EVIOCGRAB", reqGrab(), 0x40044590},
	} {
		if c.got != c.want {
			t.Errorf("%s is %#x, not %#x", c.name, c.got, c.want)
		}
	}
}

// A pipe carries what the kernel would; its end is the pedal unplugged.
func TestFollow(t *testing.T) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	word := int(unsafe.Sizeof(uintptr(0)))
	for _, e := range []Event{{time.Second, 1, 30, 1}, {1100 * time.Millisecond, 1, 30, 0}, {2 * time.Second, 1, 30, 1}, {3 * time.Second, 1, 30, 0}} {
		if _, err := w.Write(bytesOf(word, e)); err != nil {
			t.Fatal(err)
		}
	}
	w.Close()
	var got []Press
	err = follow(r, func(p Press) { got = append(got, p) })
	if err == nil || len(got) != 2 || got[0].Long || !got[1].Long {
		t.Errorf("%v, %v", got, err)
	}
}

// What is no input device is refused with the reason, and the end ends it.
func TestListenSaysWhyNot(t *testing.T) {
	file := filepath.Join(t.TempDir(), "event0")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for input, want := range map[string]error{file: unix.ENOTTY, file + "x": os.ErrNotExist, "no such pedal": ErrNone} {
		ctx, cancel := context.WithCancel(t.Context())
		var said error
		Listen(ctx, Config{Input: input}, func(Press) {}, func(err error) { said = err; cancel() })
		if !errors.Is(said, want) {
			t.Errorf("%s: %v", input, said)
		}
		cancel()
	}
}
