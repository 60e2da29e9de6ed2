package wire

import (
	"fmt"
	"sort"
	"strings"
)

// Port is something that the system knows of and a link can go to. What it does
// not tell is empty.
type Port struct {
	Kind    string // KindSerial, KindUSBTMC or KindHID
	Name    string // what is opened: /dev/ttyUSB0, COM3, /dev/usbtmc0
	Stable  string // a name that stays when other adapters come and go
	Socket  string // the USB socket it is plugged into: controller, hub ports, interface
	VID     string // upper-case hexadecimal, USB only
	PID     string
	Serial  string // of the adapter; many have none, or all the same
	Product string // as the adapter names itself
	Holder  string // the program that has it open, as far as this user may know
	Access  string // how this user gets the right to open it; empty: it may, or that is not known
	Link    string // what to write in the configuration
}

// Ports lists the serial ports, and on Linux the USB test instruments and the
// HID bridges, in order of name. It opens none of them and sends nothing:
// raising a control line resets small boards, and whatever is connected may be
// the set under repair. HID devices that are no bridges, such as keyboards, are
// left out. On systems where USB ids cannot be had without opening anything they
// stay empty.
func Ports() ([]Port, error) {
	list, err := found()
	if err != nil {
		return nil, err
	}
	addRights(list)
	return list, nil
}

// found lists the ports without their holders, which take a look at every
// process.
func found() ([]Port, error) {
	list, err := systemPorts()
	if err != nil {
		return nil, fmt.Errorf("list ports: %w", err)
	}
	sort.Slice(list, func(i, j int) bool { return list[i].Name < list[j].Name })
	suggest(list)
	return list, nil
}

// ids returns VID:PID:SERIAL.
func (p Port) ids() string { return p.VID + ":" + p.PID + ":" + p.Serial }

// byIDs is the kind of address that finds this kind of port by its ids.
func (p Port) byIDs() string {
	if p.Kind == KindSerial {
		return KindUSB
	}
	return p.Kind
}

// suggest fills Link: by the adapter's serial number when it is the only one
// that has it, else by the most stable name. HID has no stable names: a bridge
// without a number of its own is taken by its ids while it is the only one.
func suggest(list []Port) {
	count := map[string]int{}
	for _, p := range list {
		count[p.Kind+p.ids()]++
	}
	for i, p := range list {
		alone := count[p.Kind+p.ids()] == 1
		switch {
		case p.Serial != "" && alone:
			list[i].Link = p.byIDs() + ":" + p.ids()
		case p.Kind == KindHID && p.Serial == "" && alone:
			list[i].Link = KindHID + ":" + p.VID + ":" + p.PID
		case p.Stable != "":
			list[i].Link = p.Kind + ":" + p.Stable
		default:
			list[i].Link = p.Kind + ":" + p.Name
		}
	}
}

// means reports whether the address names this port.
func (a Address) means(p Port) bool {
	if a.VID != "" {
		return a.Kind == p.byIDs() && p.VID == a.VID && p.PID == a.PID && (a.Serial == "" || p.Serial == a.Serial)
	}
	return a.Kind == p.Kind && (p.Name == a.Path || p.Stable == a.Path)
}

// findUSB finds the one port behind an adapter's ids, under whatever name the
// system gave it this time.
func findUSB(a Address) (string, error) {
	list, err := found()
	if err != nil {
		return "", err
	}
	return pickUSB(a, list)
}

func pickUSB(a Address, list []Port) (string, error) {
	var found, others []string
	for _, p := range list {
		switch {
		case p.VID == "" || p.byIDs() != a.Kind:
		case a.means(p):
			found = append(found, p.Name)
		default:
			others = append(others, p.Link)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		there := "it is not plugged in, and nothing else of its kind is"
		if len(others) > 0 {
			there = "it is not plugged in; there are: " + strings.Join(others, ", ")
		}
		return "", fmt.Errorf("open %s: %w: %s%s", a, ErrNoPort, there, usbHint)
	}
	return "", fmt.Errorf("open %s: %w: %d adapters answer to that: %s: %s",
		a, ErrAddress, len(found), strings.Join(found, ", "), tellApart(a.Kind))
}

func tellApart(kind string) string {
	switch kind {
	case KindUSB:
		return "name one by its place, serial:/dev/serial/by-path/NAME"
	case KindUSBTMC:
		return "name one by its file, usbtmc:/dev/usbtmcN"
	}
	return "name one by its file, " + kind + ":/dev/NAME"
}
