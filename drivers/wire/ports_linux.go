package wire

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

const usbHint = ""

func systemPorts() ([]Port, error) {
	serial, err := portsUnder("/sys/class/tty", "/dev")
	if err != nil {
		return nil, err
	}
	tmc, err := classPorts(KindUSBTMC, "/sys/class/usbmisc", "/dev", isTMC)
	if err != nil {
		return nil, err
	}
	hid, err := classPorts(KindHID, "/sys/class/hidraw", "/dev", isBridge)
	return slices.Concat(serial, tmc, hid), err
}

// portsUnder reads what the kernel publishes about terminals. The library's
// own list would open every built-in port to see whether it is real, and raise
// its control lines by that.
func portsUnder(sys, dev string) ([]Port, error) {
	list, err := classPorts(KindSerial, sys, dev, func(entry string) bool { return !placeholder(entry) })
	stable := stableNames(dev)
	for i, p := range list {
		list[i].Stable = stable[filepath.Base(p.Name)]
	}
	return list, err
}

// classPorts lists one class of devices of the kernel, of which only some are
// meant.
func classPorts(kind, sys, dev string, meant func(entry string) bool) ([]Port, error) {
	entries, err := os.ReadDir(sys)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var list []Port
	for _, e := range entries {
		entry := filepath.Join(sys, e.Name())
		device, err := filepath.EvalSymlinks(filepath.Join(entry, "device"))
		if err != nil || !meant(entry) {
			continue // a console or a pseudo-terminal has no device behind it
		}
		p := Port{Kind: kind, Name: filepath.Join(dev, e.Name()), Socket: socket(device)}
		describeUSB(&p, device)
		list = append(list, p)
	}
	return list, nil
}

func isTMC(entry string) bool { return strings.HasPrefix(filepath.Base(entry), "usbtmc") }

// isBridge tells an HID device that carries bytes from a keyboard: its report
// descriptor begins with a usage page of its maker's own, FF00 to FFFF (item 06
// in HID 1.11, 6.2.2.7).
func isBridge(entry string) bool {
	d := attribute(filepath.Join(entry, "device"), "report_descriptor")
	return len(d) >= 3 && d[0] == 0x06 && d[2] == 0xff
}

var (
	usbBus    = regexp.MustCompile(`^usb[0-9]+$`)
	usbSocket = regexp.MustCompile(`^[0-9]+-([0-9.]+(:[0-9.]+)?)$`)
)

// socket names where in the tree of hubs a device is plugged in. The number of
// the bus is left out: it changes from start to start, the controller does not.
func socket(device string) string {
	controller, deepest := "", ""
	parts := strings.Split(device, "/")
	for i, part := range parts {
		if usbBus.MatchString(part) && i > 0 {
			controller = parts[i-1]
		}
		if m := usbSocket.FindStringSubmatch(part); m != nil {
			deepest = m[1]
		}
	}
	if deepest == "" {
		return ""
	}
	return controller + "/" + deepest
}

// placeholder tells a built-in port that has no chip: type 0 is PORT_UNKNOWN
// in the kernel's serial_core.h.
func placeholder(tty string) bool { return attribute(tty, "type") == "0" }

// describeUSB walks up from an interface to the device that has the ids.
func describeUSB(p *Port, dir string) {
	for range 5 {
		if vid := attribute(dir, "idVendor"); vid != "" {
			p.VID, p.PID = strings.ToUpper(vid), strings.ToUpper(attribute(dir, "idProduct"))
			p.Serial, p.Product = attribute(dir, "serial"), attribute(dir, "product")
			return
		}
		dir = filepath.Dir(dir)
	}
}

func attribute(dir, name string) string {
	b, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(b))
}

// stableNames maps ttyUSB0 to its name by hub and socket. That one is unique;
// the one by id is not when two adapters have the same serial number.
func stableNames(dev string) map[string]string {
	out := map[string]string{}
	links, _ := filepath.Glob(filepath.Join(dev, "serial/by-path/*"))
	for _, l := range links {
		if to, err := filepath.EvalSymlinks(l); err == nil {
			out[filepath.Base(to)] = l
		}
	}
	return out
}
