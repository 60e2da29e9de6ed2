package pedal

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
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
		{"EVIOCGNAME(80)", reqName(80), 0x80504506},
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

// A tree as the kernel has it: a pedal with a path by identity, a keyboard, and
// a switch without keys.
func TestList(t *testing.T) {
	root := t.TempDir()
	put := func(path, text string) {
		full := filepath.Join(root, path)
		if err := errors.Join(os.MkdirAll(filepath.Dir(full), 0o755), os.WriteFile(full, []byte(text), 0o644)); err != nil {
			t.Fatal(err)
		}
	}
	put("sys/class/input/event0/device/name", "Lid Switch\n")
	put("sys/class/input/event0/device/capabilities/key", "0\n")
	put("sys/class/input/event1/device/name", "Board\n")
	put("sys/class/input/event1/device/capabilities/key", "402000000 3803078f800d001 feffffdfffefffff fffffffffffffffe\n")
	put("sys/class/input/event2/device/name", "Foot Switch\n")
	put("sys/class/input/event2/device/phys", "usb-0000:00:14.0-2/input0\n")
	put("sys/class/input/event2/device/capabilities/key", "40000000\n")
	if err := errors.Join(os.MkdirAll(filepath.Join(root, "dev/input/by-id"), 0o755), os.Symlink("../event2", filepath.Join(root, "dev/input/by-id/usb-foot-event-kbd"))); err != nil {
		t.Fatal(err)
	}
	got := list(root)
	want := []Device{{Input: "Board", Name: "Board"}, {Input: "/dev/input/by-id/usb-foot-event-kbd", Name: "Foot Switch", Phys: "usb-0000:00:14.0-2/input0", Few: true}}
	if !slices.Equal(got, want) {
		t.Errorf("%+v", got)
	}
	if dev := named(root, "Foot Switch"); !slices.Equal(dev, []string{"/dev/input/event2"}) {
		t.Errorf("%v", dev)
	}
}
