package wire

import (
	"encoding/binary"
	"fmt"
	"io"
	"net"
	"os"
	"sync"
	"testing"
	"time"
	"unicode/utf16"

	"golang.org/x/sys/unix"
)

// The kernel's own drivers, tried with devices that this test makes: the kernel
// takes USB devices from a socket (USB/IP, Documentation/usb/usbip_protocol.rst),
// and to its drivers such a device is as real as one on a cable. That needs root
// and the module vhci-hcd, which few computers have loaded: .ci/kernel runs these
// tests on a Debian kernel of its own.

// gadget is a USB device of this test.
type gadget struct {
	device, config []byte
	texts          []string // string descriptors, from 1
	// class answers a request on the control pipe that is not of USB itself.
	class func(request byte, value, index uint16, data []byte) (in []byte, ok bool)
	// took is told of what was written to an endpoint.
	took func(endpoint int, data []byte)

	mu      sync.Mutex
	conn    net.Conn
	waiting map[int][]uint32 // reads that wait for data, by endpoint
	ready   map[int][][]byte // data that waits to be read
}

const (
	ipSubmit, ipUnlink, ipSubmitted, ipUnlinked = 1, 2, 3, 4
	stalled, unlinked                           = -int32(unix.EPIPE), -int32(unix.ECONNRESET)
	vhci                                        = "/sys/devices/platform/vhci_hcd.0"
)

// needsKernel skips where the kernel takes no devices from a socket.
func needsKernel(t *testing.T) {
	t.Helper()
	if _, err := os.Stat(vhci); err != nil || os.Geteuid() != 0 {
		t.Skip("SKIPPED: no virtual USB host here (root, modprobe vhci-hcd): run .ci/kernel to have the kernel's drivers tried")
	}
}

// plugIn puts the device into a port of the virtual host.
func (g *gadget) plugIn(t *testing.T, port int) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	far, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer far.Close() // the kernel holds it from then on
	near, err := l.Accept()
	if err != nil {
		t.Fatal(err)
	}
	g.mu.Lock()
	g.conn, g.waiting, g.ready = near, map[int][]uint32{}, map[int][][]byte{}
	g.mu.Unlock()
	go g.serve(near)
	raw, err := far.(*net.TCPConn).SyscallConn()
	if err != nil {
		t.Fatal(err)
	}
	const highSpeed = 3
	if e := raw.Control(func(fd uintptr) {
		err = os.WriteFile(vhci+"/attach", fmt.Appendf(nil, "%d %d %d %d", port, fd, 1, highSpeed), 0)
	}); e != nil || err != nil {
		t.Fatal(e, err)
	}
}

// pull takes the device away.
func (g *gadget) pull() {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.conn.Close()
}

func (g *gadget) serve(conn net.Conn) {
	for {
		var head [48]byte
		if _, err := io.ReadFull(conn, head[:]); err != nil {
			return
		}
		u32 := func(at int) uint32 { return binary.BigEndian.Uint32(head[at:]) }
		seq, in, endpoint, length := u32(4), u32(12) == 1, int(u32(16)), u32(24)
		if u32(0) == ipUnlink {
			g.unlink(seq, u32(20))
			continue
		}
		var data []byte
		if !in && length > 0 {
			data = make([]byte, length)
			if _, err := io.ReadFull(conn, data); err != nil {
				return
			}
		}
		switch {
		case endpoint == 0:
			g.control(seq, [8]byte(head[40:48]), data)
		case in:
			g.wants(endpoint, seq)
		default:
			g.answer(seq, 0, len(data), nil)
			g.took(endpoint, data)
		}
	}
}

// answer ends a transfer.
func (g *gadget) answer(seq uint32, status int32, length int, data []byte) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.reply(ipSubmitted, seq, status, length, data)
}

func (g *gadget) reply(command, seq uint32, status int32, length int, data []byte) {
	head := make([]byte, 48, 48+len(data))
	for at, v := range map[int]uint32{0: command, 4: seq, 20: uint32(status), 24: uint32(length)} {
		binary.BigEndian.PutUint32(head[at:], v)
	}
	_, _ = g.conn.Write(append(head, data...)) // a pulled device answers nobody
}

// wants notes that the kernel reads, and gives it what lies there.
func (g *gadget) wants(endpoint int, seq uint32) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.waiting[endpoint] = append(g.waiting[endpoint], seq)
	g.move(endpoint)
}

// put lets the kernel read something.
func (g *gadget) put(endpoint int, data []byte) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.ready[endpoint] = append(g.ready[endpoint], data)
	g.move(endpoint)
}

func (g *gadget) move(endpoint int) {
	for len(g.waiting[endpoint]) > 0 && len(g.ready[endpoint]) > 0 {
		seq, data := g.waiting[endpoint][0], g.ready[endpoint][0]
		g.waiting[endpoint], g.ready[endpoint] = g.waiting[endpoint][1:], g.ready[endpoint][1:]
		g.reply(ipSubmitted, seq, 0, len(data), data)
	}
}

// forget drops what waits to be read.
func (g *gadget) forget(endpoint int) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.ready[endpoint] = nil
}

// unlink gives up a transfer that the kernel no longer waits for.
func (g *gadget) unlink(seq, which uint32) {
	g.mu.Lock()
	defer g.mu.Unlock()
	status := int32(0)
	for endpoint, list := range g.waiting {
		for i, s := range list {
			if s == which {
				g.waiting[endpoint] = append(list[:i:i], list[i+1:]...)
				status = unlinked
				break
			}
		}
	}
	g.reply(ipUnlinked, seq, status, 0, nil)
}

// control answers what USB itself asks (USB 2.0, chapter 9), and hands on the rest.
func (g *gadget) control(seq uint32, setup [8]byte, data []byte) {
	kind, request := setup[0], setup[1]
	value, index := binary.LittleEndian.Uint16(setup[2:]), binary.LittleEndian.Uint16(setup[4:])
	in, ok := []byte(nil), true
	switch {
	case kind == 0x80 && request == 6 && value>>8 == 1:
		in = g.device
	case kind == 0x80 && request == 6 && value>>8 == 2:
		in = g.config
	case kind == 0x80 && request == 6 && value>>8 == 3:
		in = g.text(int(value & 0xff))
	case kind == 0x80 && request == 0:
		in = []byte{0, 0}
	case kind <= 2 && (request == 9 || request == 1 || request == 11 || request == 5): // configure, clear a halt
	default:
		in, ok = g.class(request, value, index, data)
	}
	if !ok || kind&0x80 != 0 && in == nil {
		g.answer(seq, stalled, 0, nil)
		return
	}
	if kind&0x80 == 0 {
		g.answer(seq, 0, len(data), nil)
		return
	}
	in = in[:min(len(in), int(binary.LittleEndian.Uint16(setup[6:])))]
	g.answer(seq, 0, len(in), in)
}

func (g *gadget) text(i int) []byte {
	if i == 0 {
		return []byte{4, 3, 9, 4} // English
	}
	if i > len(g.texts) {
		return nil
	}
	b := []byte{0, 3}
	for _, u := range utf16.Encode([]rune(g.texts[i-1])) {
		b = binary.LittleEndian.AppendUint16(b, u)
	}
	b[0] = byte(len(b))
	return b
}

// deviceOf makes a device descriptor; product and serial number are texts 1 and 2.
func deviceOf(vid, pid uint16) []byte {
	b := []byte{18, 1, 0, 2, 0, 0, 0, 64}
	for _, w := range []uint16{vid, pid, 0x0100} {
		b = binary.LittleEndian.AppendUint16(b, w)
	}
	return append(b, 0, 1, 2, 1)
}

// configOf makes a configuration of interfaces and endpoints.
func configOf(interfaces byte, parts ...[]byte) []byte {
	b := []byte{9, 2, 0, 0, interfaces, 1, 0, 0x80, 50}
	for _, p := range parts {
		b = append(b, p...)
	}
	binary.LittleEndian.PutUint16(b[2:], uint16(len(b)))
	return b
}

// portWith waits until the kernel has made a port for the device, or has taken it
// away.
func portWith(t *testing.T, a Address, there bool) Port {
	t.Helper()
	for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		list, err := Ports()
		if err != nil {
			t.Fatal(err)
		}
		var got Port
		for _, p := range list {
			if a.means(p) {
				got = p
			}
		}
		if (got.Name != "") == there && (!there || !noFile(got.Name)) {
			return got
		}
	}
	t.Fatalf("%s: there is it not as wanted: %t", a, there)
	return Port{}
}
