package wire

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
)

// hidFile is an HID device as the system hands it to a program: whole reports,
// one at a time.
type hidFile interface {
	// read waits at most d for an input report; nothing in time is 0 and nil. A
	// report with a number has it in front.
	read(p []byte, d time.Duration) (int, error)
	// write sends an output report, its number in front, 0 when it has none.
	write(report []byte) error
	// feature sends a feature report, its number in front, 0 when it has none.
	feature(report []byte) error
	close() error
}

// bridge is a kind of chip that carries the bytes of a UART in HID reports.
type bridge struct {
	name string
	ids  []string // VID:PID that these chips leave the factory with
	// setUp makes the feature reports that set the line, and names what the chip
	// does not do.
	setUp func(l Line) (reports [][]byte, not []string)
	// pack makes output reports of bytes.
	pack func(b []byte) [][]byte
	// unpack takes the bytes out of an input report; what is no report of bytes
	// has none.
	unpack func(report []byte) []byte
}

// bridges are the chips that are known, by the names that the option bridge of an
// address takes. All of it is from memory of the makers' notes and has not been
// tried on a device here; that the kernel takes such reports and hands them on is
// tried (TestKernelHID).
var bridges = []bridge{
	// Reports 01 to 3F carry as many bytes as their number says; feature report
	// 41 switches the UART on, 50 sets it (application note AN434, from memory).
	{"numbered", []string{"10C4:EA80"}, setUpNumbered, packNumbered, unpackNumbered},
	// Reports of 8 bytes without a number: F0 and the count, then up to 7 bytes; a
	// feature report of 5 bytes sets the rate (from memory of programs' sources
	// and traces: the maker has published none).
	{"counted", []string{"1A86:E008", "04FA:2490"}, setUpCounted, packCounted, unpackCounted},
}

func bridgeNames() string {
	var list []string
	for _, b := range bridges {
		list = append(list, b.name)
	}
	return strings.Join(list, " or ")
}

// bridgeOf finds the kind of chip by the name in the address, else by the ids.
func bridgeOf(name, ids string) (bridge, error) {
	for _, b := range bridges {
		if b.name == name || name == "" && slices.Contains(b.ids, ids) {
			return b, nil
		}
	}
	if name != "" {
		return bridge{}, fmt.Errorf("bridge %q is not known: use %s", name, bridgeNames())
	}
	var known []string
	for _, b := range bridges {
		known = append(known, b.name+" ("+strings.Join(b.ids, ", ")+")")
	}
	return bridge{}, fmt.Errorf("%s is none of the bridges known by their ids: %s: if it speaks like one of them, say so with ?bridge=%s",
		ids, strings.Join(known, ", "), bridges[0].name)
}

// parseHID takes a device file or the ids.
func (a *Address) parseHID(where string) error {
	if strings.HasPrefix(where, "/") {
		return a.parsePath(where)
	}
	return a.parseUSB(where)
}

// hidPort is a UART behind a bridge. DTR and RTS are not there, and what they
// power on a serial cable is powered by USB: their settings are of no account.
type hidPort struct {
	file   hidFile
	bridge bridge
	left   []byte // received, not yet handed on
	report [64]byte
}

// newHID sets the bridge. A chip that cannot do what is asked is refused.
func newHID(where string, file hidFile, b bridge, l Line) (*hidPort, error) {
	reports, not := b.setUp(l)
	if l.Handshake == "xon-xoff" {
		not = append(not, "handshake xon-xoff")
	}
	if len(not) > 0 {
		return nil, refused(where, strings.Join(not, ", "))
	}
	for _, r := range reports {
		if err := file.feature(r); err != nil {
			return nil, fmt.Errorf("open %s: %w: it does not take the settings of a %s bridge (report %02x): %w", where, ErrSettings, b.name, r[0], err)
		}
	}
	return &hidPort{file: file, bridge: b}, nil
}

// read hands on the bytes of the reports that come within d. Reports without
// bytes do not lengthen the wait.
func (p *hidPort) read(b []byte, d time.Duration) (int, error) {
	for until := time.Now().Add(d); len(p.left) == 0; {
		n, err := p.file.read(p.report[:], max(time.Until(until), 0))
		if n == 0 || err != nil {
			return 0, err
		}
		p.left = p.bridge.unpack(p.report[:n])
	}
	n := copy(b, p.left)
	p.left = p.left[n:]
	return n, nil
}

func (p *hidPort) glance(b []byte) (int, error) { return p.read(b, 0) }

func (p *hidPort) write(b []byte) error {
	for _, r := range p.bridge.pack(b) {
		if err := p.file.write(r); err != nil {
			return err
		}
	}
	return nil
}

func (p *hidPort) close() error { return p.file.close() }

// The numbered kind.
const (
	numberedMost   = 0x3f
	numberedEnable = 0x41
	numberedConfig = 0x50
)

// setUpNumbered: the rate in four bytes, high byte first; parity none, even, odd,
// mark, space; hardware handshake; data bits from 5 on; short or long stop bits.
func setUpNumbered(l Line) (reports [][]byte, not []string) {
	parity := slices.Index([]string{"none", "even", "odd", "mark", "space"}, l.Parity)
	if parity < 0 {
		parity = 0
	}
	if l.Baud < 300 || l.Baud > 1_000_000 {
		not = append(not, fmt.Sprintf("%d baud", l.Baud))
	}
	if l.StopBits == "1.5" {
		not = append(not, "1.5 stop bits")
	}
	flow, stop := byte(0), byte(0)
	if l.Handshake == "rts-cts" {
		flow = 1
	}
	if l.StopBits == "2" {
		stop = 1
	}
	b := uint32(l.Baud)
	return [][]byte{
		{numberedEnable, 1},
		{numberedConfig, byte(b >> 24), byte(b >> 16), byte(b >> 8), byte(b), byte(parity), flow, byte(l.DataBits - 5), stop},
	}, not
}

func packNumbered(b []byte) (reports [][]byte) {
	for part := range slices.Chunk(b, numberedMost) {
		reports = append(reports, append([]byte{byte(len(part))}, part...))
	}
	return reports
}

func unpackNumbered(report []byte) []byte {
	if n := int(report[0]); n >= 1 && n <= numberedMost && len(report) > n {
		return report[1 : 1+n]
	}
	return nil
}

// The counted kind.
const (
	countedMark = 0xf0
	countedMost = 7
)

// setUpCounted: the rate in two bytes, low byte first, two of no known meaning,
// and 3, which is 8 data bits.
func setUpCounted(l Line) (reports [][]byte, not []string) {
	if l.Baud < 300 || l.Baud > 0xffff {
		not = append(not, fmt.Sprintf("%d baud", l.Baud))
	}
	if l.DataBits != 8 || l.Parity != "none" || l.StopBits != "1" {
		not = append(not, "anything but 8 data bits, no parity and 1 stop bit")
	}
	if l.Handshake == "rts-cts" {
		not = append(not, "handshake rts-cts")
	}
	return [][]byte{{0, byte(l.Baud), byte(l.Baud >> 8), 0, 0, 3}}, not
}

func packCounted(b []byte) (reports [][]byte) {
	for part := range slices.Chunk(b, countedMost) {
		r := make([]byte, 1+1+countedMost) // no number, count, bytes
		r[1] = countedMark | byte(len(part))
		copy(r[2:], part)
		reports = append(reports, r)
	}
	return reports
}

func unpackCounted(report []byte) []byte {
	n := int(report[0]) &^ countedMark
	if report[0]&countedMark != countedMark || n > countedMost || len(report) <= n {
		return nil
	}
	return report[1 : 1+n]
}

// errNoReport is what a report of no length means: there is no such report.
var errNoReport = errors.New("the device sent an empty report")

// gotReport tells the end of a device from a report.
func gotReport(n int, err error) (int, error) {
	if err == nil && n == 0 {
		return 0, fmt.Errorf("%w: %w", errNoReport, io.EOF)
	}
	return max(n, 0), err
}
