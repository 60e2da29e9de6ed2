package wire

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"syscall"
	"time"

	"go.bug.st/serial"
)

// port is a descriptor as the holder of the turn uses it. No method is safe for
// concurrent use.
type port interface {
	// read waits at most d; nothing in time is 0 and nil.
	read(p []byte, d time.Duration) (int, error)
	// glance takes what already lies there, without waiting.
	glance(p []byte) (int, error)
	// write sends all of p, or says what went wrong; it may hang.
	write(p []byte) error
	close() error
}

// messenger is a port that carries messages, not a stream: USBTMC, HiSLIP and
// VXI-11. A message is a line, whatever it ends with.
type messenger interface {
	// ended reports whether what the last read returned was the end of a
	// message. A read never returns bytes of two messages.
	ended() bool
}

// clearer is a port that can call the far end to order after a time-out, by the
// device clear of its standard.
type clearer interface {
	// clear makes both ends forget what is on its way.
	clear() error
}

// fleeting is a port whose device can vanish without its descriptor noticing.
type fleeting interface {
	vanished() bool
}

// chunk is the most that one write hands to the system, so that a stopped far
// end is noticed between two of them.
const chunk = 64

type serialPort struct {
	lib  serial.Port
	path string
	wait time.Duration // time-out the library has now
	not  string        // the levels that it does not do and that were only wished for
}

func (p *serialPort) read(b []byte, d time.Duration) (int, error) {
	if d != p.wait {
		if err := p.lib.SetReadTimeout(d); err != nil {
			return 0, err
		}
		p.wait = d
	}
	return p.lib.Read(b)
}

func (p *serialPort) glance(b []byte) (int, error) { return p.read(b, glanceTime) }

func (p *serialPort) write(b []byte) error {
	for len(b) > 0 {
		n, err := p.lib.Write(b[:min(len(b), chunk)])
		if err != nil && !errors.Is(err, syscall.EINTR) {
			return err
		}
		if n == 0 && err == nil {
			return errors.New("the system took no byte")
		}
		b = b[n:]
	}
	return nil
}

// vanished looks for the device file after a time-out: the system takes it away
// when the adapter is pulled.
func (p *serialPort) vanished() bool { return noFile(p.path) }

func (p *serialPort) close() error { return p.lib.Close() }

var parities = map[string]serial.Parity{
	"none": serial.NoParity, "odd": serial.OddParity, "even": serial.EvenParity,
	"mark": serial.MarkParity, "space": serial.SpaceParity,
}

var stopBits = map[string]serial.StopBits{
	"1": serial.OneStopBit, "1.5": serial.OnePointFiveStopBits, "2": serial.TwoStopBits,
}

func mode(l Line) *serial.Mode {
	return &serial.Mode{
		BaudRate: l.Baud, DataBits: l.DataBits, Parity: parities[l.Parity], StopBits: stopBits[l.StopBits],
	}
}

func dialSerial(_ context.Context, a Address, l Line) (port, error) { return openSerial(a.Path, l) }

// dialUSB opens the serial port behind an adapter's ids, whatever it is called now.
func dialUSB(_ context.Context, a Address, l Line) (port, error) {
	path, err := findUSB(a)
	if err != nil {
		return nil, err
	}
	return openSerial(path, l)
}

// openSerial opens a device, sets the line, makes sure that the port does all
// that was asked, and that it can be read.
func openSerial(path string, l Line) (port, error) {
	if occupier(path) != "" {
		return nil, busy(path)
	}
	set, err := openSettings(path)
	if err != nil {
		return nil, explainOpen(path, err)
	}
	defer set.close()
	if what := set.before(l); what != "" {
		return nil, refused(path, what)
	}
	p := &serialPort{path: path, wait: -1}
	if not := set.lines(l); not != "" {
		if err := p.without(not, l); err != nil {
			return nil, err
		}
		l.DTR, l.RTS = "", "" // the library would fail
	}
	m := mode(l)
	if l.DTR == "off" || l.RTS == "off" {
		m.InitialStatusBits = &serial.ModemOutputBits{DTR: l.DTR != "off", RTS: l.RTS != "off"}
	}
	lib, err := serial.Open(path, m)
	if err != nil {
		return nil, explainOpen(path, err)
	}
	p.lib = lib
	if err := p.begin(set, l); err != nil {
		_ = lib.Close()
		return nil, err
	}
	return p, nil
}

// begin finishes what the library has opened.
func (p *serialPort) begin(set settings, l Line) error {
	not, err := set.apply(l)
	if err != nil {
		return explainOpen(p.path, err)
	}
	if len(not) > 0 {
		return refused(p.path, strings.Join(slices.Compact(not), ", "))
	}
	if not := set.levels(l); not != "" {
		if err := p.without(not, l); err != nil {
			return err
		}
	}
	if err := p.firstRead(); err != nil {
		return fmt.Errorf("open %s: %w", p.path, err)
	}
	return nil
}

// refused names the settings that a port does not do. Going on without them
// would read garbled characters, or characters that only look right.
func refused(path, what string) error {
	return fmt.Errorf("open %s: %w: the adapter does not take %s: set the instrument and its link to what it takes, or use another adapter", path, ErrSettings, what)
}

// firstRead throws away what lay there before us. It also finds out whether
// the library can read this descriptor at all: it panics for numbers that
// select cannot take.
func (p *serialPort) firstRead() (err error) {
	defer func() {
		if recover() != nil {
			err = fmt.Errorf("%w: too many files are open in this program (over 1000): close some links or jobs", ErrStuck)
		}
	}()
	var b [256]byte
	if _, err := p.glance(b[:]); err != nil {
		return fmt.Errorf("%w: %w", ErrGone, err)
	}
	return nil
}
