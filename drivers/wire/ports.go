package wire

import (
	"fmt"
	"sort"
	"strings"
)

// Port is a serial port that the system knows of. What it does not tell is
// empty.
type Port struct {
	Name    string // what is opened: /dev/ttyUSB0, COM3
	Stable  string // a name that stays when other adapters come and go
	VID     string // upper-case hexadecimal, USB adapters only
	PID     string
	Serial  string // of the adapter; many have none, or all the same
	Product string // as the adapter names itself
	Link    string // what to write in the configuration
}

// Ports lists the serial ports in order of name. It opens none of them and
// sends nothing: raising a control line resets small boards, and whatever is
// connected may be the set under repair. On systems where USB ids cannot be
// had without opening anything they stay empty.
func Ports() ([]Port, error) {
	list, err := systemPorts()
	if err != nil {
		return nil, fmt.Errorf("list serial ports: %w", err)
	}
	sort.Slice(list, func(i, j int) bool { return list[i].Name < list[j].Name })
	suggest(list)
	return list, nil
}

// suggest fills Link: by the adapter's serial number when it is the only one
// that has it, else by the most stable name.
func suggest(list []Port) {
	count := map[string]int{}
	key := func(p Port) string { return p.VID + ":" + p.PID + ":" + p.Serial }
	for _, p := range list {
		count[key(p)]++
	}
	for i, p := range list {
		switch {
		case p.Serial != "" && count[key(p)] == 1:
			list[i].Link = KindUSB + ":" + key(p)
		case p.Stable != "":
			list[i].Link = KindSerial + ":" + p.Stable
		default:
			list[i].Link = KindSerial + ":" + p.Name
		}
	}
}

// findUSB finds the one port behind an adapter's ids.
func findUSB(a Address) (string, error) {
	list, err := Ports()
	if err != nil {
		return "", err
	}
	return pickUSB(a, list)
}

func pickUSB(a Address, list []Port) (string, error) {
	var found, others []string
	for _, p := range list {
		switch {
		case p.VID == "":
		case p.VID == a.VID && p.PID == a.PID && (a.Serial == "" || p.Serial == a.Serial):
			found = append(found, p.Name)
		default:
			others = append(others, p.Link)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		there := "no other USB adapter is there"
		if len(others) > 0 {
			there = "there are: " + strings.Join(others, ", ")
		}
		return "", fmt.Errorf("open %s: %w: %s%s", a, ErrNoPort, there, usbHint)
	}
	return "", fmt.Errorf("open %s: %w: %d adapters answer to that: %s: name one by its place, serial:/dev/serial/by-path/NAME",
		a, ErrAddress, len(found), strings.Join(found, ", "))
}
