package wire

import (
	"fmt"
	"net"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// The kinds of address.
const (
	KindSerial = "serial"     // serial:/dev/ttyUSB0?baud=9600, serial:COM10
	KindUSB    = "usb-serial" // usb-serial:VID:PID:SERIAL
	KindTCP    = "tcp"        // tcp:127.0.0.1:5025
)

// Address says where a link goes. Two addresses with the same [Address.Place]
// are the same wire.
type Address struct {
	Kind   string
	Path   string // device for serial, host:port for tcp
	VID    string // upper-case hexadecimal, usb-serial only
	PID    string
	Serial string // of the adapter; empty: the only adapter with these ids
	Line   Line   // what the address says about the line; zero where it says nothing
}

// ParseAddress reads the form used in the configuration:
//
//	serial:/dev/ttyUSB0?baud=19200&bits=7&parity=even&stop=1&terminator=CRLF&dtr=on&rts=off
//	usb-serial:VID:PID:SERIAL?baud=9600
//	tcp:127.0.0.1:5025?answer=500ms
//
// Errors wrap [ErrAddress] and say what is accepted.
func ParseAddress(s string) (Address, error) {
	kind, rest, ok := strings.Cut(s, ":")
	where, query, _ := strings.Cut(rest, "?")
	if !ok || where == "" {
		return Address{}, fmt.Errorf("%w %q: write serial:/dev/ttyUSB0, usb-serial:VID:PID:SERIAL or tcp:host:port", ErrAddress, s)
	}
	a := Address{Kind: kind}
	var err error
	switch kind {
	case KindSerial:
		a.Path = where
	case KindUSB:
		err = a.parseUSB(where)
	case KindTCP:
		a.Path = where
		err = checkHostPort(where)
	default:
		err = fmt.Errorf("link kind %q is not known here: use serial, usb-serial or tcp", kind)
	}
	if err == nil {
		err = a.parseOptions(query)
	}
	if err != nil {
		return Address{}, fmt.Errorf("%w %q: %w", ErrAddress, s, err)
	}
	return a, nil
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
	return a.Line.Validate()
}

// option sets one option. An unknown one is an error: a misspelt baud rate
// must not fall back to the default in silence.
func (a *Address) option(key, value string) error {
	var err error
	serialOnly := true
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
	case "terminator":
		l.Terminator, serialOnly = strings.ToUpper(value), false
	case "answer":
		l.AnswerTimeout, err = time.ParseDuration(value)
		serialOnly = false
	default:
		return fmt.Errorf("option %q is not known: use baud, bits, parity, stop, dtr, rts, terminator or answer", key)
	}
	if err != nil {
		return fmt.Errorf("option %s=%q cannot be read", key, value)
	}
	if serialOnly && a.Kind == KindTCP {
		return fmt.Errorf("option %s means nothing on tcp", key)
	}
	return nil
}

// Place returns the address without options. Links with equal places share one
// connection.
func (a Address) Place() string {
	if a.Kind == KindUSB {
		return a.Kind + ":" + a.VID + ":" + a.PID + ":" + a.Serial
	}
	return a.Kind + ":" + a.Path
}

// String returns Place: what messages call the link.
func (a Address) String() string { return a.Place() }
