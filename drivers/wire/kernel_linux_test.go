package wire

import (
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"testing"
)

// tmc is a USB test instrument (USBTMC 1.0, sections 3 and 4).
type tmc struct {
	*gadget
	skew   atomic.Bool // its tags are out of step until it is cleared
	clears atomic.Int32
	tag    byte   // of the read that waits; guarded by the one goroutine that serves
	owes   []byte // what it will say when asked for it
}

func newTMCGadget(serial string) *tmc {
	m := &tmc{gadget: &gadget{device: deviceOf(0x1209, 0x0001), texts: []string{"test instrument", serial}}}
	m.config = configOf(1, []byte{9, 4, 0, 0, 2, 0xfe, 3, 0, 0}, []byte{7, 5, 0x01, 2, 0, 2, 0}, []byte{7, 5, 0x82, 2, 0, 2, 0})
	m.took, m.class = m.message, m.request
	return m
}

// request answers the requests of the class (USBTMC 1.0, table 15): all succeed.
func (m *tmc) request(request byte, value, _ uint16, _ []byte) ([]byte, bool) {
	const success = 1
	switch request {
	case 5: // INITIATE_CLEAR
		m.clears.Add(1)
		m.skew.Store(false)
		m.owes = nil
		m.forget(2)
		return []byte{success}, true
	case 6: // CHECK_CLEAR_STATUS
		return []byte{success, 0}, true
	case 7: // GET_CAPABILITIES
		return append([]byte{success, 0, 0, 1}, make([]byte, 20)...), true
	case 1, 3: // INITIATE_ABORT_BULK_OUT, _IN
		m.owes = nil
		return []byte{success, byte(value)}, true
	case 2, 4: // CHECK_ABORT_BULK_OUT_STATUS, _IN
		return []byte{success, 0, 0, 0, 0, 0, 0, 0}, true
	}
	return nil, false
}

func (m *tmc) message(_ int, b []byte) {
	if len(b) < 12 {
		return
	}
	m.tag = b[1]
	switch n := binary.LittleEndian.Uint32(b[4:]); b[0] {
	case 1:
		m.asked(strings.TrimSpace(string(b[12 : 12+n])))
	case 2:
		m.say(int(n))
	}
}

func (m *tmc) asked(s string) {
	switch {
	case s == "*IDN?":
		m.owes = []byte("bench,T1," + m.texts[1] + ",1\n")
	case strings.HasPrefix(s, "LONG? "):
		var n int
		fmt.Sscan(s[6:], &n)
		m.owes = []byte(strings.Repeat("7", n) + "\n")
	case s == "READ?":
		m.owes = []byte("+5.0123E+00\n")
	}
}

// say sends as much as was asked for of what is owed.
func (m *tmc) say(most int) {
	if m.owes == nil {
		return
	}
	part := m.owes[:min(len(m.owes), most)]
	m.owes = m.owes[len(part):]
	end := byte(1)
	if len(m.owes) > 0 {
		end = 0
	} else {
		m.owes = nil
	}
	tag := m.tag
	if m.skew.Load() {
		tag++
	}
	b := []byte{2, tag, ^tag, 0}
	b = binary.LittleEndian.AppendUint32(b, uint32(len(part)))
	b = append(append(b, end, 0, 0, 0), part...)
	for len(b)%4 != 0 {
		b = append(b, 0)
	}
	m.put(2, b)
}

// The kernel's USBTMC driver between our link and an instrument: parts, silence,
// tags out of step, pulled and plugged again elsewhere.
func TestKernelUSBTMC(t *testing.T) {
	needsKernel(t)
	m := newTMCGadget("AB0147")
	m.plugIn(t, 8)
	defer m.pull()
	a, err := ParseAddress("usbtmc:1209:0001:AB0147?answer=700ms")
	if err != nil {
		t.Fatal(err)
	}
	p := portWith(t, a, true)
	t.Logf("%+v", p)
	if p.Kind != KindUSBTMC || p.Product != "test instrument" || p.Link != "usbtmc:1209:0001:AB0147" || p.Socket == "" {
		t.Errorf("%+v", p)
	}
	conn := opened(t, a, Line{Limit: 10_000})
	asks := func(q, want string) {
		t.Helper()
		if got, err := conn.Query(bg, q); err != nil || got != want {
			t.Errorf("%s: %.60q (%d), %v", q, got, len(got), err)
		}
	}
	asks("*IDN?", "bench,T1,AB0147,1")
	for _, n := range []int{1, 499, 500, 501, 1011, 1012, 1013, 2047, 2048, 2049, 5000} {
		asks(fmt.Sprint("LONG? ", n), strings.Repeat("7", n))
	}
	recovers := func(what string) {
		t.Helper()
		if err := conn.Drain(bg); err != nil {
			t.Fatalf("%s: drain: %v", what, err)
		}
		asks("READ?", "+5.0123E+00")
	}
	if _, err := conn.Query(bg, "MUTE?"); !errors.Is(err, ErrTimeout) {
		t.Errorf("mute: %v", err)
	}
	recovers("after silence")
	m.skew.Store(true)
	if got, err := conn.Query(bg, "*IDN?"); err == nil {
		t.Errorf("tags out of step: %q", got)
	} else {
		t.Logf("tags out of step: %v", err)
	}
	before := m.clears.Load()
	recovers("after tags out of step")
	t.Logf("cleared %d times for it, %d in all", m.clears.Load()-before, m.clears.Load())
	m.pull()
	if _, err := conn.Query(bg, "READ?"); !errors.Is(err, ErrGone) {
		t.Errorf("pulled: %v", err)
	}
	portWith(t, a, false)
	m.plugIn(t, 9)
	t.Logf("%s, then %s", p.Name, portWith(t, a, true).Name)
	conn = opened(t, a, Line{})
	asks("READ?", "+5.0123E+00")
}

func opened(t *testing.T, a Address, l Line) *Conn {
	t.Helper()
	conn, err := Open(bg, a, l)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	return conn
}
