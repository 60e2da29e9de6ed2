package wire

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

const usbHint = ""

func systemPorts() ([]Port, error) { return portsUnder("/sys/class/tty", "/dev") }

// portsUnder reads what the kernel publishes about terminals. The library's
// own list would open every built-in port to see whether it is real, and raise
// its control lines by that.
func portsUnder(sys, dev string) ([]Port, error) {
	entries, err := os.ReadDir(sys)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	stable := stableNames(dev)
	var list []Port
	for _, e := range entries {
		device, err := filepath.EvalSymlinks(filepath.Join(sys, e.Name(), "device"))
		if err != nil || placeholder(filepath.Join(sys, e.Name())) {
			continue // a console or a pseudo-terminal has no device behind it
		}
		p := Port{Name: filepath.Join(dev, e.Name()), Stable: stable[e.Name()]}
		describeUSB(&p, device)
		list = append(list, p)
	}
	return list, nil
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
