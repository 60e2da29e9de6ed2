package wire

import (
	"context"
	"fmt"
	"net"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
)

// The kinds of address.
const (
	KindSerial = "serial"     // serial:/dev/ttyUSB0?baud=9600, serial:COM10
	KindUSB    = "usb-serial" // usb-serial:VID:PID:SERIAL
	KindTCP    = "tcp"        // tcp:127.0.0.1:5025
	KindUSBTMC = "usbtmc"     // usbtmc:/dev/usbtmc0, usbtmc:VID:PID:SERIAL
	KindHiSLIP = "hislip"     // hislip:host[:4880][/sub-address]
	KindVXI11  = "vxi11"      // vxi11:host[:port][/device]
	KindHID    = "hid"        // hid:VID:PID:SERIAL
)

// kind is what there is to know of one kind of address.
type kind struct {
	form    string                                                     // an example, for messages
	lan     bool                                                       // the far end is in the network: its address is its place
	options string                                                     // the options that mean something there
	parse   func(a *Address, where string) error                       // what stands behind the kind, without options
	dial    func(ctx context.Context, a Address, l Line) (port, error) // a returned port is connected
}

// The options of an address that several kinds take.
const (
	everywhere = "terminator answer pause address " // what a line of text needs on every link
	onLines    = everywhere + "baud bits parity stop dtr rts levels handshake echo framing "
)

// kinds is the table of everything that an address can begin with.
func kinds() map[string]kind {
	return map[string]kind{
		KindSerial: {"serial:/dev/ttyUSB0", false, onLines, (*Address).parsePath, dialSerial},
		KindUSB:    {"usb-serial:VID:PID:SERIAL", false, onLines, (*Address).parseUSB, dialUSB},
		KindTCP:    {"tcp:host:port", true, everywhere + "echo framing ", (*Address).parseHostPort, dialTCP},
		KindHiSLIP: {"hislip:host", true, everywhere, (*Address).parseHiSLIP, dialHiSLIP},
		KindVXI11:  {"vxi11:host", true, everywhere, (*Address).parseVXI11, dialVXI11},
		KindHID:    {"hid:VID:PID:SERIAL", false, everywhere + "baud bits parity stop handshake framing bridge ", (*Address).parseHID, dialHID},
		KindUSBTMC: {"usbtmc:/dev/usbtmc0", false, everywhere, (*Address).parseUSBTMC, dialUSBTMC},
	}
}

// Address says where a link goes. Two addresses with the same [Address.Place]
// are the same wire.
type Address struct {
	Kind   string
	Path   string // device for serial and usbtmc, host:port and what follows for the network
	VID    string // upper-case hexadecimal; empty where a device is named by Path
	PID    string
	Serial string // of the adapter or the instrument; empty: the only one with these ids
	Line   Line   // what the address says about the line; zero where it says nothing

	// Unit is whom a link reaches that several instruments share: the unit on an
	// RS-485 pair, the instrument behind a gateway. It is no part of the place.
	Unit    string
	Bridge  string // of hid: the kind of bridge, where its ids do not tell
	Framing string // of Modbus: "rtu" or "tcp"; empty: as is usual on this kind of link
}

// ParseAddress reads the form used in the configuration:
//
//	serial:/dev/ttyUSB0?baud=19200&bits=7&parity=even&stop=1&terminator=CRLF&dtr=on&rts=off&levels=any
//	usb-serial:VID:PID:SERIAL?baud=9600&handshake=rts-cts&pause=20ms&echo=on
//	usbtmc:VID:PID:SERIAL or usbtmc:/dev/usbtmc0
//	hid:VID:PID:SERIAL?baud=2400&bridge=counted or hid:/dev/hidraw0
//	tcp:127.0.0.1:5025?answer=500ms
//
// Errors wrap [ErrAddress] and say what is accepted.
func ParseAddress(s string) (Address, error) {
	name, rest, ok := strings.Cut(s, ":")
	where, query, _ := strings.Cut(rest, "?")
	a := Address{Kind: name}
	k, known := kinds()[name]
	switch {
	case !known && meant(s) != "":
		return Address{}, fmt.Errorf("%w %q: the kind of link is missing: did you mean %s?", ErrAddress, s, meant(s))
	case !ok || where == "":
		return Address{}, fmt.Errorf("%w %q: write %s", ErrAddress, s, forms())
	case !known:
		return Address{}, fmt.Errorf("%w %q: link kind %q is not known here: write %s", ErrAddress, s, name, forms())
	}
	err := k.parse(&a, where)
	if err == nil {
		err = a.parseOptions(query)
	}
	if err != nil {
		return Address{}, fmt.Errorf("%w %q: %w", ErrAddress, s, err)
	}
	return a, nil
}

// forms lists an example of each kind; serial comes first because most are.
func forms() string {
	var list []string
	for name, k := range kinds() {
		if name != KindSerial {
			list = append(list, k.form)
		}
	}
	slices.Sort(list)
	all := append([]string{kinds()[KindSerial].form}, list...)
	last := len(all) - 1
	return strings.Join(all[:last], ", ") + " or " + all[last]
}

func (a *Address) parsePath(where string) error {
	a.Path = where
	return nil
}

func (a *Address) parseHostPort(where string) error {
	a.Path = where
	return checkHostPort(where)
}

// parseUSBTMC takes a device file or the ids.
func (a *Address) parseUSBTMC(where string) error {
	if strings.HasPrefix(where, "/") {
		return a.parsePath(where)
	}
	return a.parseUSB(where)
}

func checkHostPort(where string) error {
	host, port, err := net.SplitHostPort(where)
	if err != nil || host == "" {
		return fmt.Errorf("want host:port, such as 127.0.0.1:5025 or [::1]:5025")
	}
	if n, err := strconv.Atoi(port); err != nil || n < 1 || n > 65535 {
		return fmt.Errorf("port %q is not a number from 1 to 65535", port)
	}
	return nil
}

func (a *Address) parseUSB(where string) error {
	parts := strings.SplitN(where, ":", 3)
	if len(parts) < 2 {
		return fmt.Errorf("want VID:PID:SERIAL as `steadyrail ports` prints them")
	}
	for _, id := range parts[:2] {
		if _, err := strconv.ParseUint(id, 16, 16); err != nil || len(id) != 4 {
			return fmt.Errorf("%q is not a USB id of four hexadecimal digits", id)
		}
	}
	a.VID, a.PID = strings.ToUpper(parts[0]), strings.ToUpper(parts[1])
	if len(parts) == 3 {
		a.Serial = parts[2]
	}
	return nil
}

func (a *Address) parseOptions(query string) error {
	values, err := url.ParseQuery(query)
	if err != nil {
		return fmt.Errorf("cannot read the options after the question mark: %w", err)
	}
	for key, list := range values {
		if len(list) != 1 {
			return fmt.Errorf("option %s is given %d times", key, len(list))
		}
		if err := a.option(key, list[0]); err != nil {
			return err
		}
	}
	// Who writes a level behind a link means it.
	if l := &a.Line; l.Levels == "" && (l.DTR != "" || l.RTS != "") {
		l.Levels = "needed"
	}
	return a.Line.problem()
}

// option sets one option. An unknown one is an error: a misspelt baud rate
// must not fall back to the default in silence.
func (a *Address) option(key, value string) error {
	var err error
	l := &a.Line
	switch key {
	case "baud":
		l.Baud, err = strconv.Atoi(value)
	case "bits":
		l.DataBits, err = strconv.Atoi(value)
	case "parity":
		l.Parity = strings.ToLower(value)
	case "stop":
		l.StopBits = value
	case "dtr":
		l.DTR = value
	case "rts":
		l.RTS = value
	case "levels":
		l.Levels = strings.ToLower(value)
	case "handshake":
		l.Handshake = strings.ToLower(value)
	case "echo":
		l.Echo = value
	case "terminator":
		l.Terminator = strings.ToUpper(value)
	case "answer":
		l.AnswerTimeout, err = time.ParseDuration(value)
	case "pause":
		l.Pause, err = time.ParseDuration(value)
	case "address":
		a.Unit = value
	case "bridge":
		a.Bridge = value
		if _, err := bridgeOf(value, ""); err != nil {
			return err
		}
	case "framing":
		a.Framing = strings.ToLower(value)
		if a.Framing != "rtu" && a.Framing != "tcp" {
			return fmt.Errorf("option framing=%q: use rtu or tcp", value)
		}
	default:
		return fmt.Errorf("option %q is not known: use %s", key, a.options())
	}
	if err != nil {
		return fmt.Errorf("option %s=%q: %s", key, value, wanted(key, value))
	}
	if !strings.Contains(" "+kinds()[a.Kind].options, " "+key+" ") {
		return fmt.Errorf("option %s means nothing on %s: use %s", key, a.Kind, a.options())
	}
	return nil
}

// options lists what this kind of address takes.
func (a *Address) options() string {
	return strings.Join(strings.Fields(kinds()[a.Kind].options), ", ")
}

// Place returns the address without options. Links with equal places share one
// connection.
func (a Address) Place() string {
	if a.VID != "" {
		return strings.TrimSuffix(a.Kind+":"+a.VID+":"+a.PID+":"+a.Serial, ":")
	}
	return a.Kind + ":" + a.Path
}

// String returns Place: what messages call the link.
func (a Address) String() string { return a.Place() }
