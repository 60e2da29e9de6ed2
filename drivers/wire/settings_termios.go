//go:build (linux && !ppc64 && !ppc64le) || darwin

package wire

import (
	"fmt"
	"strings"

	"golang.org/x/sys/unix"
)

// settings is a second descriptor of a serial port, held only while it is
// opened: the library has no handshake and does not say what an adapter made of
// its settings. It must be opened before the library's, which keeps everybody
// else out. Terminal settings belong to the port and not to the descriptor, and
// the control lines stay up when it is closed, because the other one is open.
type settings struct{ fd int }

// openSettings opens without waiting for a carrier and without becoming the
// terminal of this program.
func openSettings(path string) (settings, error) {
	fd, err := unix.Open(path, unix.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	return settings{fd}, err
}

func (s settings) close() { _ = unix.Close(s.fd) } // nothing was written

// before refuses what is known to be impossible, so that the library's general
// message does not hide it.
func (s settings) before(l Line) string {
	if l.StopBits == "1.5" {
		return "1.5 stop bits (this system knows 1 and 2)"
	}
	if (l.Parity == "mark" || l.Parity == "space") && markSpace == 0 {
		return l.Parity + " parity (this system has none)"
	}
	return ""
}

// lines says that levels were asked of a port that has no control lines.
func (s settings) lines(l Line) string {
	if !l.states() {
		return ""
	}
	if _, err := unix.IoctlGetInt(s.fd, unix.TIOCMGET); err != nil && s.terminal() {
		return "a level of DTR or RTS (it has no such lines)"
	}
	return ""
}

func (s settings) terminal() bool {
	_, err := unix.IoctlGetTermios(s.fd, getTermios)
	return err == nil
}

// apply sets the handshake, which the library has switched off, and names what
// the port does not do of everything that was asked.
func (s settings) apply(l Line) (refused []string, err error) {
	t, err := unix.IoctlGetTermios(s.fd, getTermios)
	if err != nil {
		return nil, err
	}
	if handshake(t, l.Handshake) {
		if err := unix.IoctlSetTermios(s.fd, setTermios, t); err != nil {
			return nil, err
		}
		if t, err = unix.IoctlGetTermios(s.fd, getTermios); err != nil {
			return nil, err
		}
	}
	return differs(t, l), nil
}

// handshake changes t and reports whether it has to be set.
func handshake(t *unix.Termios, name string) bool {
	switch name {
	case "rts-cts":
		t.Cflag |= unix.CRTSCTS
	case "xon-xoff":
		t.Iflag |= unix.IXON | unix.IXOFF
		t.Cc[unix.VSTART], t.Cc[unix.VSTOP] = 0x11, 0x13
	default:
		return false
	}
	return true
}

// differs compares what a port says it does with what was asked. What the line
// leaves open is not compared.
func differs(t *unix.Termios, l Line) (refused []string) {
	check := func(kept bool, format string, args ...any) {
		if !kept {
			refused = append(refused, fmt.Sprintf(format, args...))
		}
	}
	size := map[int]uint64{5: unix.CS5, 6: unix.CS6, 7: unix.CS7, 8: unix.CS8}
	cflag := uint64(t.Cflag)
	if l.DataBits != 0 {
		check(cflag&unix.CSIZE == size[l.DataBits], "%d data bits", l.DataBits)
	}
	if l.Parity != "" {
		check(cflag&(unix.PARENB|unix.PARODD|markSpace) == parityFlags[l.Parity], "%s parity", l.Parity)
	}
	if l.StopBits != "" {
		check(cflag&unix.CSTOPB != 0 == (l.StopBits == "2"), "%s stop bits", l.StopBits)
	}
	if l.Handshake != "" {
		check(cflag&unix.CRTSCTS != 0 == (l.Handshake == "rts-cts"), "the handshake %s", l.Handshake)
		check(uint64(t.Iflag)&unix.IXON != 0 == (l.Handshake == "xon-xoff"), "the handshake %s", l.Handshake)
	}
	if is := int(t.Ospeed); l.Baud != 0 {
		check(closeTo(is, l.Baud), "%d baud (it set %d)", l.Baud, is)
	}
	return refused
}

var parityFlags = map[string]uint64{
	"none": 0, "even": unix.PARENB, "odd": unix.PARENB | unix.PARODD,
	"mark": unix.PARENB | unix.PARODD | markSpace, "space": unix.PARENB | markSpace,
}

// closeTo allows what a divider makes of a rate: a receiver is out by half a
// bit at the end of a character of ten bits when the rates differ by 5 %, and
// both ends share that.
func closeTo(is, asked int) bool {
	diff := is - asked
	return max(diff, -diff)*40 <= asked // 2.5 %
}

// levels compares the control lines, where the port has them, and names those
// that are not as stated.
func (s settings) levels(l Line) string {
	is, err := unix.IoctlGetInt(s.fd, unix.TIOCMGET)
	if err != nil || !l.states() {
		return "" // lines has told it if a level was asked
	}
	return unlike(is, l)
}

// unlike names the levels among the bits of TIOCMGET that are not as stated.
func unlike(is int, l Line) string {
	var not []string
	for _, c := range []struct {
		name, asked string
		bit         int
	}{{"DTR", l.DTR, unix.TIOCM_DTR}, {"RTS", l.RTS, unix.TIOCM_RTS}} {
		handshakes := c.name == "RTS" && l.Handshake == "rts-cts" // it moves by itself
		if c.asked != "" && !handshakes && (is&c.bit != 0) != (c.asked == "on") {
			not = append(not, c.name+" "+c.asked)
		}
	}
	return strings.Join(not, ", ")
}
