package wire

import (
	"os"
	"path/filepath"
	"testing"
)

// TestPortsUnder lists a tree as the kernel publishes it: a built-in port, a
// placeholder without a chip, a converter, a modem-class device, a console.
func TestPortsUnder(t *testing.T) {
	root := t.TempDir()
	put := func(path, text string) {
		t.Helper()
		path = filepath.Join(root, path)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	link := func(path, to string) {
		t.Helper()
		path = filepath.Join(root, path)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(filepath.Join(root, to), path); err != nil {
			t.Fatal(err)
		}
	}
	put("devices/serial8250/port0/x", "")
	put("devices/serial8250/port1/x", "")
	put("devices/usb1/1-1/idVendor", "1a2b")
	put("devices/usb1/1-1/idProduct", "3c4d")
	put("devices/usb1/1-1/serial", "00123457")
	put("devices/usb1/1-1/product", "Serial converter")
	put("devices/usb1/1-1/1-1:1.0/ttyUSB0/x", "")
	put("devices/usb1/1-2/idVendor", "aaaa")
	put("devices/usb1/1-2/idProduct", "bbbb")
	put("devices/usb1/1-2/1-2:1.0/x", "")
	put("tty/ttyS0/type", "4")
	link("tty/ttyS0/device", "devices/serial8250/port0")
	put("tty/ttyS1/type", "0")
	link("tty/ttyS1/device", "devices/serial8250/port1")
	link("tty/ttyUSB0/device", "devices/usb1/1-1/1-1:1.0/ttyUSB0")
	link("tty/ttyACM0/device", "devices/usb1/1-2/1-2:1.0")
	put("tty/tty0/x", "")
	put("dev/ttyACM0", "")
	link("dev/serial/by-path/usb-0:2:1.0", "dev/ttyACM0")

	dev := filepath.Join(root, "dev")
	list, err := portsUnder(filepath.Join(root, "tty"), dev)
	if err != nil {
		t.Fatal(err)
	}
	suggest(list)
	stable := filepath.Join(dev, "serial/by-path/usb-0:2:1.0")
	want := map[string]Port{
		"ttyS0":   {Link: "serial:" + dev + "/ttyS0"},
		"ttyUSB0": {VID: "1A2B", PID: "3C4D", Serial: "00123457", Product: "Serial converter", Link: "usb-serial:1A2B:3C4D:00123457"},
		"ttyACM0": {VID: "AAAA", PID: "BBBB", Stable: stable, Link: "serial:" + stable},
	}
	for _, p := range list {
		name := filepath.Base(p.Name)
		w, ok := want[name]
		w.Name = filepath.Join(dev, name)
		if !ok || p != w {
			t.Errorf("%s: got %+v, want %+v", name, p, w)
		}
		delete(want, name)
	}
	if len(want) != 0 {
		t.Errorf("not listed: %v", want)
	}
}

// TestPortsHere: listing leaves nothing open. The library's list
// opens every built-in port; ours reads two folders.
func TestPortsHere(t *testing.T) {
	before := openFiles(t)
	if _, err := Ports(); err != nil {
		t.Fatal(err)
	}
	if after := openFiles(t); after != before {
		t.Fatalf("%d descriptors open, %d before", after, before)
	}
}
