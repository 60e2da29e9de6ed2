package wire

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
)

// uart is what both serial kinds of gadget have behind them: a meter that answers
// lines, and a note of how the line was set.
type uart struct {
	mu   sync.Mutex
	name string
	line []byte
	set  []string
}

func (u *uart) note(format string, args ...any) {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.set = append(u.set, fmt.Sprintf(format, args...))
}

func (u *uart) notes() []string {
	u.mu.Lock()
	defer u.mu.Unlock()
	return slices.Clone(u.set)
}

// heard takes bytes and returns the answers to the lines that they complete.
func (u *uart) heard(b []byte) (out []byte) {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.line = append(u.line, b...)
	for {
		line, rest, ended := bytes.Cut(u.line, []byte{'\n'})
		if !ended {
			return out
		}
		u.line = slices.Clone(rest)
		switch s := string(line); {
		case s == "*IDN?":
			out = append(out, "bench,S1,"+u.name+",1\n"...)
		case s == "LONG?":
			out = append(out, strings.Repeat("0123456789", 60)+"\n"...)
		}
	}
}

// newModem is a serial port of the class for modems (CDC 1.2, PSTN 1.2), which has
// control lines and says nothing of its own.
func newModem(serial string) (*gadget, *uart) {
	u := &uart{name: serial}
	g := &gadget{device: deviceOf(0x1209, 0x0002), texts: []string{"test adapter", serial}}
	g.config = configOf(2,
		[]byte{9, 4, 0, 0, 1, 2, 2, 1, 0}, []byte{5, 36, 0, 0x10, 1}, []byte{5, 36, 1, 0, 1}, []byte{4, 36, 2, 2}, []byte{5, 36, 6, 0, 1}, []byte{7, 5, 0x83, 3, 8, 0, 8},
		[]byte{9, 4, 1, 0, 2, 10, 0, 0, 0}, []byte{7, 5, 0x81, 2, 0, 2, 0}, []byte{7, 5, 0x02, 2, 0, 2, 0})
	g.took = func(_ int, b []byte) {
		if out := u.heard(b); len(out) > 0 {
			g.put(1, out)
		}
	}
	g.class = func(request byte, value, _ uint16, data []byte) ([]byte, bool) {
		switch request {
		case 0x20: // SET_LINE_CODING
			u.note("%d baud, stop %d, parity %d, %d bits", binary.LittleEndian.Uint32(data), data[4], data[5], data[6])
		case 0x22: // SET_CONTROL_LINE_STATE
			u.note("DTR %d RTS %d", value&1, value>>1&1)
		default:
			return nil, false
		}
		return nil, true
	}
	return g, u
}

// The kernel's driver of serial adapters with control lines: what becomes of the
// settings, of names that are swapped, and of a port that is pulled.
func TestKernelSerial(t *testing.T) {
	needsKernel(t)
	first, u := newModem("A1")
	other, _ := newModem("B2")
	first.plugIn(t, 10)
	a := Address{Kind: KindUSB, VID: "1209", PID: "0002", Serial: "A1"}
	was := portWith(t, a, true)
	if touched := lastWith(u.notes(), "DTR"); touched != "" {
		t.Errorf("listing the ports has moved the control lines: %s", touched)
	}
	conn := opened(t, a, Line{Baud: 2400, DTR: "on", RTS: "off", Levels: "needed", DataBits: 7, Parity: "even", StopBits: "2"})
	asks := func(q, want string) {
		t.Helper()
		if got, err := conn.Query(bg, q); err != nil || got != want {
			t.Errorf("%s: %.60q, %v", q, got, err)
		}
	}
	asks("*IDN?", "bench,S1,A1,1")
	asks("LONG?", strings.Repeat("0123456789", 60))
	notes := u.notes()
	t.Logf("set: %s", strings.Join(notes, " | "))
	if !slices.Contains(notes, "2400 baud, stop 2, parity 2, 7 bits") || lastWith(notes, "DTR") != "DTR 1 RTS 0" {
		t.Errorf("the adapter was not set as asked")
	}
	if conn.Unset() != "" {
		t.Errorf("unset: %s", conn.Unset())
	}
	// Pulled, and back behind another one that has taken its name.
	first.pull()
	if _, err := conn.Query(bg, "*IDN?"); !errors.Is(err, ErrGone) {
		t.Errorf("pulled: %v", err)
	}
	portWith(t, a, false)
	other.plugIn(t, 11)
	defer other.pull()
	taken := portWith(t, Address{Kind: KindUSB, VID: "1209", PID: "0002", Serial: "B2"}, true)
	first.plugIn(t, 12)
	defer first.pull()
	is := portWith(t, a, true)
	t.Logf("it was %s, is %s; %s has the other", was.Name, is.Name, taken.Name)
	if taken.Name != was.Name || is.Name == was.Name {
		t.Errorf("the names are not swapped")
	}
	before := len(u.notes())
	conn = opened(t, a, Line{DTR: "off", RTS: "off"})
	asks("*IDN?", "bench,S1,A1,1")
	t.Logf("set: %s", strings.Join(u.notes()[before:], " | "))
	// The kernel raises both before anybody can ask for something else: doc.go and
	// the plan of a probe say so.
	if since := u.notes()[before:]; lastWith(since, "DTR") != "DTR 0 RTS 0" || since[0] != "DTR 1 RTS 1" {
		t.Errorf("the lines are not raised and then low")
	}
}

func lastWith(list []string, front string) (last string) {
	for _, s := range list {
		if strings.HasPrefix(s, front) {
			last = s
		}
	}
	return last
}

// newBridge is an HID bridge of either kind (HID 1.11).
func newBridge(kind, serial string) (*gadget, *uart) {
	u := &uart{name: serial}
	reports, pid, unpack, pack := numberedReports(), uint16(0xea80), unpackNumbered, packNumbered
	vid := uint16(0x10c4)
	if kind == "counted" {
		reports, vid, pid = countedReports(), 0x1a86, 0xe008
		unpack = unpackCounted
		pack = func(b []byte) (out [][]byte) {
			for _, r := range packCounted(b) {
				out = append(out, r[1:]) // the number that there is not
			}
			return out
		}
	}
	g := &gadget{device: deviceOf(vid, pid), texts: []string{"test bridge", serial}}
	g.config = configOf(1, []byte{9, 4, 0, 0, 2, 3, 0, 0, 0},
		binary.LittleEndian.AppendUint16([]byte{9, 0x21, 0x11, 1, 0, 1, 0x22}, uint16(len(reports))),
		[]byte{7, 5, 0x81, 3, 64, 0, 1}, []byte{7, 5, 0x02, 3, 64, 0, 1})
	g.took = func(_ int, b []byte) {
		for _, r := range pack(u.heard(unpack(b))) {
			g.put(1, r)
		}
	}
	g.class = func(request byte, value, _ uint16, data []byte) ([]byte, bool) {
		switch {
		case request == 6 && value == 0x2200:
			return reports, true
		case request == 9 && value>>8 == 3:
			u.note("feature %02x: % x", value&0xff, data)
		case request != 10: // SET_IDLE
			return nil, false
		}
		return nil, true
	}
	return g, u
}

func numberedReports() []byte {
	b := []byte{0x06, 0x00, 0xff, 0x09, 1, 0xa1, 1, 0x15, 0, 0x26, 0xff, 0, 0x75, 8}
	for n := byte(1); n <= numberedMost; n++ {
		b = append(b, 0x85, n, 0x95, n, 0x09, 1, 0x81, 2, 0x95, n, 0x09, 1, 0x91, 2)
	}
	b = append(b, 0x85, numberedEnable, 0x95, 1, 0x09, 1, 0xb1, 2)
	return append(b, 0x85, numberedConfig, 0x95, 8, 0x09, 1, 0xb1, 2, 0xc0)
}

func countedReports() []byte {
	return []byte{0x06, 0xa0, 0xff, 0x09, 1, 0xa1, 1, 0x15, 0, 0x26, 0xff, 0, 0x75, 8,
		0x95, 8, 0x09, 1, 0x81, 2, 0x95, 8, 0x09, 1, 0x91, 2, 0x95, 5, 0x09, 1, 0xb1, 2, 0xc0}
}

// The kernel's hidraw between our link and a bridge of either kind.
func TestKernelHID(t *testing.T) {
	needsKernel(t)
	for port, kind := range map[int]string{13: "numbered", 14: "counted"} {
		t.Run(kind, func(t *testing.T) {
			g, u := newBridge(kind, "H7")
			g.plugIn(t, port)
			a, err := ParseAddress(map[string]string{"numbered": "hid:10C4:EA80:H7", "counted": "hid:1A86:E008:H7"}[kind])
			if err != nil {
				t.Fatal(err)
			}
			p := portWith(t, a, true)
			if p.Kind != KindHID || p.Link != a.Place() || p.Product != "test bridge" {
				t.Errorf("%+v", p)
			}
			conn := opened(t, a, Line{Baud: 2400})
			for q, want := range map[string]string{"*IDN?": "bench,S1,H7,1", "LONG?": strings.Repeat("0123456789", 60)} {
				if got, err := conn.Query(bg, q); err != nil || got != want {
					t.Errorf("%s: %.60q, %v", q, got, err)
				}
			}
			wants := []string{"feature 41: 41 01", "feature 50: 50 00 00 09 60 00 00 03 00"}
			if kind == "counted" {
				wants = []string{"feature 00: 60 09 00 00 03"}
			}
			if !slices.Equal(u.notes(), wants) {
				t.Errorf("set: %q, want %q", u.notes(), wants)
			}
			if _, err := Open(bg, a, Line{}); !errors.Is(err, ErrBusy) {
				t.Errorf("opened twice: %v", err)
			}
			g.pull()
			if _, err := conn.Query(bg, "*IDN?"); !errors.Is(err, ErrGone) {
				t.Errorf("pulled: %v", err)
			}
			portWith(t, a, false)
			if _, err := Open(bg, a, Line{}); !errors.Is(err, ErrNoPort) {
				t.Errorf("after it was pulled: %v", err)
			}
			g.plugIn(t, port)
			defer g.pull()
			portWith(t, a, true)
			conn = opened(t, a, Line{Baud: 2400})
			if got, err := conn.Query(bg, "*IDN?"); got != "bench,S1,H7,1" {
				t.Errorf("back: %q, %v", got, err)
			}
		})
	}
}
