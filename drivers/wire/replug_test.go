//go:build unix

package wire

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestVanishWhileIdle: the adapter was pulled while nobody read. The next
// exchange of any sort says so and lets go of the descriptor at once.
func TestVanishWhileIdle(t *testing.T) {
	for name, call := range map[string]func(*Conn) error{
		"query":    func(c *Conn) error { _, err := c.Query(bg, "A?"); return err },
		"send":     func(c *Conn) error { return c.Send(bg, "OUTP OFF") },
		"exchange": func(c *Conn) error { _, err := c.Exchange(bg, []byte{1}, splitTest); return err },
		"listen":   func(c *Conn) error { _, err := c.Exchange(bg, nil, splitTest); return err },
		"latest":   func(c *Conn) error { _, _, err := Latest(bg, c, splitTest); return err },
		"drain":    func(c *Conn) error { return c.Drain(bg) },
	} {
		f := plug(t, write("1\n"))
		conn := openTest(t, f.device, quick())
		before := openFiles(t)
		f.unplug()
		if err := call(conn); !errors.Is(err, ErrGone) {
			t.Errorf("%s: got %v", name, err)
		}
		if conn.Alive() {
			t.Errorf("%s: it says it is alive", name)
		}
		if after := openFiles(t); after >= before-2 { // both ends of the terminal, and ours
			t.Errorf("%s: %d descriptors open, %d before", name, after, before)
		}
	}
}

// TestFileVanishes: the device file is taken away and nothing else happens. A
// time-out finds out.
func TestFileVanishes(t *testing.T) {
	f := plug(t, func(request string, w io.Writer) {
		if request == "A?" {
			_, _ = io.WriteString(w, "1\n")
		}
	})
	link := filepath.Join(t.TempDir(), "by-path")
	if err := os.Symlink(f.device, link); err != nil {
		t.Fatal(err)
	}
	conn := openTest(t, link, quick())
	if got, err := conn.Query(bg, "A?"); got != "1" {
		t.Fatalf("%q, %v", got, err)
	}
	if _, err := conn.Query(bg, "MUTE?"); !errors.Is(err, ErrTimeout) {
		t.Fatal(err)
	}
	if err := conn.Drain(bg); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(link); err != nil {
		t.Fatal(err)
	}
	if _, err := conn.Query(bg, "MUTE?"); !errors.Is(err, ErrGone) || !strings.Contains(err.Error(), "device file has vanished") || conn.Alive() {
		t.Fatalf("got %v", err)
	}
}

// TestSwappedNames: two adapters come back under each other's names. Whoever is
// found by number or by socket is the same as before.
func TestSwappedNames(t *testing.T) {
	a := Port{Kind: KindSerial, Name: "/dev/ttyUSB0", VID: "1A2B", PID: "3C4D", Serial: "1", Socket: "c/1:1.0"}
	b := Port{Kind: KindSerial, Name: "/dev/ttyUSB1", VID: "1A2B", PID: "3C4D", Serial: "2", Socket: "c/2:1.0"}
	address, err := ParseAddress("usb-serial:1A2B:3C4D:2")
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		list := []Port{a, b}
		suggest(list)
		if got, err := pickUSB(address, list); got != b.Name || err != nil {
			t.Fatalf("got %s, %v, want %s", got, err, b.Name)
		}
		if w := whereaboutsIn(address, list); w.Adapter != "1A2B:3C4D:2" || w.Path != "c/2:1.0" {
			t.Fatalf("got %+v", w)
		}
		a.Name, b.Name = b.Name, a.Name
	}
}
