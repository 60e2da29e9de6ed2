package wire

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// tree is a copy of what the kernel publishes, as far as a test needs it.
type tree struct {
	t    *testing.T
	root string
}

func (r tree) put(path, text string) {
	r.t.Helper()
	path = filepath.Join(r.root, path)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		r.t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text+"\n"), 0o644); err != nil {
		r.t.Fatal(err)
	}
}

func (r tree) link(path, to string) {
	r.t.Helper()
	path = filepath.Join(r.root, path)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		r.t.Fatal(err)
	}
	if !filepath.IsAbs(to) {
		to = filepath.Join(r.root, to)
	}
	if err := os.Symlink(to, path); err != nil {
		r.t.Fatal(err)
	}
}

// same compares a list with what is wanted, by the last part of the name.
func same(t *testing.T, list []Port, dev string, want map[string]Port) {
	t.Helper()
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

// TestPortsUnder lists a tree as the kernel publishes it: a built-in port, a
// placeholder without a chip, a converter, a modem-class device, a console.
func TestPortsUnder(t *testing.T) {
	root := t.TempDir()
	put, link := tree{t, root}.put, tree{t, root}.link
	put("devices/serial8250/port0/x", "")
	put("devices/serial8250/port1/x", "")
	put("devices/0000:00:14.0/usb1/1-1/idVendor", "1a2b")
	put("devices/0000:00:14.0/usb1/1-1/idProduct", "3c4d")
	put("devices/0000:00:14.0/usb1/1-1/serial", "00123457")
	put("devices/0000:00:14.0/usb1/1-1/product", "Serial converter")
	put("devices/0000:00:14.0/usb1/1-1/1-1:1.0/ttyUSB0/x", "")
	put("devices/0000:00:14.0/usb1/1-2/idVendor", "aaaa")
	put("devices/0000:00:14.0/usb1/1-2/idProduct", "bbbb")
	put("devices/0000:00:14.0/usb1/1-2/1-2:1.0/x", "")
	put("tty/ttyS0/type", "4")
	link("tty/ttyS0/device", "devices/serial8250/port0")
	put("tty/ttyS1/type", "0")
	link("tty/ttyS1/device", "devices/serial8250/port1")
	link("tty/ttyUSB0/device", "devices/0000:00:14.0/usb1/1-1/1-1:1.0/ttyUSB0")
	link("tty/ttyACM0/device", "devices/0000:00:14.0/usb1/1-2/1-2:1.0")
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
	same(t, list, dev, map[string]Port{
		"ttyS0": {Kind: KindSerial, Link: "serial:" + dev + "/ttyS0"},
		"ttyUSB0": {Kind: KindSerial, VID: "1A2B", PID: "3C4D", Serial: "00123457", Product: "Serial converter",
			Socket: "0000:00:14.0/1:1.0", Link: "usb-serial:1A2B:3C4D:00123457"},
		"ttyACM0": {Kind: KindSerial, VID: "AAAA", PID: "BBBB", Stable: stable,
			Socket: "0000:00:14.0/2:1.0", Link: "serial:" + stable},
	})
}

// TestOtherPorts: a test instrument; a bridge without a number and a keyboard
// beside it; a printer, which is of the same class as the instrument.
func TestOtherPorts(t *testing.T) {
	root := t.TempDir()
	put, link := tree{t, root}.put, tree{t, root}.link
	const bus = "devices/0000:00:14.0/usb3/3-4/"
	put(bus+"3-4.2/idVendor", "1a2b")
	put(bus+"3-4.2/idProduct", "0588")
	put(bus+"3-4.2/serial", "AB0147")
	put(bus+"3-4.2/3-4.2:1.0/x", "")
	link("usbmisc/usbtmc0/device", bus+"3-4.2/3-4.2:1.0")
	link("usbmisc/lp0/device", bus+"3-4.2/3-4.2:1.0")
	put(bus+"3-4.3/idVendor", "1a2b")
	put(bus+"3-4.3/idProduct", "3c4d")
	put(bus+"3-4.3/3-4.3:1.0/0003:1A2B:3C4D.0001/report_descriptor", "\x06\x00\xff\x09\x01\xa1\x01")
	link("hidraw/hidraw0/device", bus+"3-4.3/3-4.3:1.0/0003:1A2B:3C4D.0001")
	put(bus+"3-4.1/3-4.1:1.0/0003:0001:0002.0001/report_descriptor", "\x05\x01\x09\x06\xa1\x01")
	link("hidraw/hidraw1/device", bus+"3-4.1/3-4.1:1.0/0003:0001:0002.0001")

	tmc, err := classPorts(KindUSBTMC, filepath.Join(root, "usbmisc"), "/dev", isTMC)
	if err != nil {
		t.Fatal(err)
	}
	hid, err := classPorts(KindHID, filepath.Join(root, "hidraw"), "/dev", isBridge)
	if err != nil {
		t.Fatal(err)
	}
	list := append(tmc, hid...)
	suggest(list)
	same(t, list, "/dev", map[string]Port{
		"usbtmc0": {Kind: KindUSBTMC, VID: "1A2B", PID: "0588", Serial: "AB0147", Socket: "0000:00:14.0/4.2:1.0", Link: "usbtmc:1A2B:0588:AB0147"},
		"hidraw0": {Kind: KindHID, VID: "1A2B", PID: "3C4D", Socket: "0000:00:14.0/4.3:1.0", Link: "hid:1A2B:3C4D"},
	})
	none, err := classPorts(KindHID, filepath.Join(root, "nothing"), "/dev", isBridge)
	if len(none) != 0 || err != nil {
		t.Errorf("no such class: got %v, %v", none, err)
	}
}

// TestWhereaboutsByPath: after a replug the same instrument has another number
// and stays the same by its own serial number, or by its socket.
func TestWhereaboutsByPath(t *testing.T) {
	byNumber := Port{Kind: KindUSBTMC, Name: "/dev/usbtmc1", VID: "1A2B", PID: "0588", Serial: "AB0147", Socket: "c/4.2:1.0"}
	bare := Port{Kind: KindSerial, Name: "/dev/ttyUSB1", VID: "0001", PID: "0002", Socket: "c/4.1:1.0"}
	list := []Port{byNumber, bare}
	suggest(list)
	for link, want := range map[string]Whereabouts{
		"usbtmc:1A2B:0588:AB0147": {Adapter: "1A2B:0588:AB0147", Path: "c/4.2:1.0"},
		"usbtmc:/dev/usbtmc1":     {Adapter: "1A2B:0588:AB0147", Path: "c/4.2:1.0"},
		"serial:/dev/ttyUSB1":     {Path: "c/4.1:1.0"},
		"usb-serial:0001:0002":    {Path: "c/4.1:1.0"},
		"serial:/dev/ttyUSB9":     {},
	} {
		a, err := ParseAddress(link)
		if err != nil {
			t.Fatal(err)
		}
		if got := whereaboutsIn(a, list); got != want {
			t.Errorf("%s: got %+v, want %+v", link, got, want)
		}
	}
}

// TestHolders: this test holds a terminal, and is named as its holder.
func TestHolders(t *testing.T) {
	f := plug(t, nil)
	who := holder(f.device)
	if want := fmt.Sprintf("(process %d)", os.Getpid()); !strings.Contains(who, want) {
		t.Errorf("got %q, want it to name %s", who, want)
	}
	root := t.TempDir()
	tree{t, root}.put("4711/comm", "modem-service")
	tree{t, root}.link("4711/fd/7", "/dev/ttyUSB0")
	tree{t, root}.link("4711/fd/8", "/etc/passwd")
	tree{t, root}.put("4712/comm", "far-end")
	tree{t, root}.link("4712/fd/3", "/dev/ptmx")
	tree{t, root}.link("4712/fd/4", "/dev/pts/7")
	tree{t, root}.put(fmt.Sprintf("%d/comm", os.Getpid()), "self")
	tree{t, root}.link(fmt.Sprintf("%d/fd/5", os.Getpid()), "/dev/ttyUSB1")
	for device, want := range map[string]string{"/dev/ttyUSB0": "modem-service (process 4711)", "/dev/pts/7": "", "/dev/ttyUSB1": ""} {
		if got := heldByOther(root, device); got != want {
			t.Errorf("%s is held by %q, want %q", device, got, want)
		}
	}
	for _, p := range []string{"4712/fd/3", "4712/fd/4", fmt.Sprintf("%d/fd/5", os.Getpid())} {
		if err := os.Remove(filepath.Join(root, p)); err != nil {
			t.Fatal(err)
		}
	}
	if got := holders(root); len(got) != 1 || got["/dev/ttyUSB0"] != "modem-service (process 4711)" {
		t.Errorf("got %v", got)
	}
}

// TestRights: who may open a port is told no way; who may not is told one.
func TestRights(t *testing.T) {
	f := plug(t, nil)
	list := []Port{{Name: f.device}}
	if err := os.Chmod(f.device, 0o666); err != nil {
		t.Fatal(err)
	}
	asNobody(t, func() { addRights(list) })
	if list[0].Access != "" {
		t.Errorf("everybody may, but: %s", list[0].Access)
	}
	if os.Getuid() != 0 {
		return // one's own terminal cannot be denied
	}
	for perm, says := range map[os.FileMode]string{0o660: "usermod -aG", 0o600: "device rules"} {
		if err := os.Chmod(f.device, perm); err != nil {
			t.Fatal(err)
		}
		asNobody(t, func() { addRights(list) })
		if !strings.Contains(list[0].Access, says) {
			t.Errorf("mode %o: got %q", perm, list[0].Access)
		}
	}
	asNobody(t, func() {}) // back to ourselves
	addRights(list)
	if !strings.Contains(list[0].Holder, "process") {
		t.Errorf("the holder is %q", list[0].Holder)
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
