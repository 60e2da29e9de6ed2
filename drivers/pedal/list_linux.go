package pedal

import (
	"math/bits"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// fewKeys is how many keys a pedal has at the most; a keyboard has a hundred.
const fewKeys = 12

// List names the input devices that have keys, from what the kernel tells of
// them: none is opened.
func List() []Device { return list("/") }

// entry is one event device as sysfs tells of it.
type entry struct {
	event string // "event5"
	Device
}

func list(root string) []Device {
	var out []Device
	for _, e := range entries(root) {
		out = append(out, e.Device)
	}
	return out
}

// named returns the device files of a name.
func named(root, name string) []string {
	var out []string
	for _, e := range entries(root) {
		if e.Name == name {
			out = append(out, "/dev/input/"+e.event)
		}
	}
	return out
}

func entries(root string) []entry {
	dirs, _ := filepath.Glob(filepath.Join(root, "sys/class/input/event*"))
	slices.Sort(dirs)
	byID := stable(root)
	var out []entry
	for _, dir := range dirs {
		tell := func(what string) string {
			b, _ := os.ReadFile(filepath.Join(dir, "device", what)) // many have no phys
			return strings.TrimSpace(string(b))
		}
		keys := ones(tell("capabilities/key"))
		if keys == 0 {
			continue
		}
		e := entry{filepath.Base(dir), Device{Name: tell("name"), Phys: tell("phys"), Few: keys <= fewKeys}}
		if e.Input = byID[e.event]; e.Input == "" {
			e.Input = e.Name
		}
		out = append(out, e)
	}
	return out
}

// stable maps event devices to their paths by identity.
func stable(root string) map[string]string {
	out := map[string]string{}
	links, _ := filepath.Glob(filepath.Join(root, "dev/input/by-id/*"))
	for _, link := range links {
		if to, err := os.Readlink(link); err == nil {
			out[filepath.Base(to)] = "/dev/input/by-id/" + filepath.Base(link)
		}
	}
	return out
}

// ones counts the bits of a bitmap as sysfs writes it: words in hexadecimal.
func ones(bitmap string) int {
	n := 0
	for _, w := range strings.Fields(bitmap) {
		v, err := strconv.ParseUint(w, 16, 64)
		if err != nil {
			return 0
		}
		n += bits.OnesCount64(v)
	}
	return n
}
