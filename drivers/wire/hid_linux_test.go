package wire

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
	"pgregory.net/rapid"
)

// fakeHID is a pair of sockets that keep messages apart, as hidraw does, with the
// feature reports that were set.
type fakeHID struct {
	hidraw
	far      int
	features [][]byte
	requests []uintptr
	refuse   byte // number of a feature report that is refused
}

func newFakeHID(t *testing.T) *fakeHID {
	t.Helper()
	pair, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_SEQPACKET|unix.SOCK_NONBLOCK|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	f := &fakeHID{far: pair[1]}
	f.hidraw = hidraw{pair[0], func(fd int, request uintptr, report []byte) error {
		if fd != pair[0] {
			return unix.EBADF
		}
		if report[0] == f.refuse && f.refuse != 0 {
			return unix.EPIPE
		}
		f.features = append(f.features, bytes.Clone(report))
		f.requests = append(f.requests, request)
		return nil
	}}
	t.Cleanup(func() { _ = unix.Close(f.far) })
	return f
}

// says sends an input report.
func (f *fakeHID) says(t *testing.T, report ...byte) {
	t.Helper()
	if _, err := unix.Write(f.far, report); err != nil {
		t.Fatal(err)
	}
}

func (f *fakeHID) heard(t *testing.T) []byte {
	t.Helper()
	var b [64]byte
	n, err := unix.Read(f.far, b[:])
	if err != nil {
		t.Fatal(err)
	}
	return b[:n]
}

func hidConn(t *testing.T, kind string, l Line) (*Conn, *fakeHID) {
	t.Helper()
	f := newFakeHID(t)
	b, err := bridgeOf(kind, "")
	if err != nil {
		t.Fatal(err)
	}
	l = DefaultLine().With(l)
	p, err := newHID("hid:test", f, b, l)
	if err != nil {
		t.Fatal(err)
	}
	c := newConn("hid:test", p, l)
	t.Cleanup(func() { _ = c.Close() })
	return c, f
}

// TestHIDLine: the reports of both kinds, byte for byte.
func TestHIDLine(t *testing.T) {
	for _, c := range []struct {
		kind string
		line Line
		want string
	}{
		{"numbered", Line{}, "[41 01] [50 00 00 25 80 00 00 03 00]"},
		{"numbered", Line{Baud: 115200, DataBits: 7, Parity: "even", StopBits: "2", Handshake: "rts-cts"}, "[41 01] [50 00 01 c2 00 01 01 02 01]"},
		{"counted", Line{Baud: 2400}, "[00 60 09 00 00 03]"},
		{"counted", Line{Baud: 19230}, "[00 1e 4b 00 00 03]"},
	} {
		_, f := hidConn(t, c.kind, c.line)
		var got []string
		for _, r := range f.features {
			got = append(got, fmt.Sprintf("[% x]", r))
		}
		if got := strings.Join(got, " "); got != c.want {
			t.Errorf("%s %+v: %s, want %s", c.kind, c.line, got, c.want)
		}
	}
	// linux/hidraw.h and asm-generic/ioctl.h: _IOC(_IOC_WRITE|_IOC_READ, 'H', 0x06, 9).
	if _, f := hidConn(t, "numbered", Line{}); f.requests[1] != 0xc0094806 {
		t.Errorf("request %#x", f.requests[1])
	}
}

func TestHIDRefusedSettings(t *testing.T) {
	for _, c := range []struct {
		kind string
		line Line
		says string
	}{
		{"counted", Line{DataBits: 7, Parity: "even"}, "anything but 8 data bits"},
		{"counted", Line{Baud: 115200}, "115200 baud"},
		{"counted", Line{Handshake: "rts-cts"}, "rts-cts"},
		{"numbered", Line{Handshake: "xon-xoff"}, "xon-xoff"},
		{"numbered", Line{StopBits: "1.5"}, "1.5 stop bits"},
	} {
		b, _ := bridgeOf(c.kind, "")
		if _, err := newHID("here", newFakeHID(t), b, DefaultLine().With(c.line)); !errors.Is(err, ErrSettings) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s %+v: %v", c.kind, c.line, err)
		}
	}
	b, _ := bridgeOf("numbered", "")
	f := newFakeHID(t)
	f.refuse = 0x50
	if _, err := newHID("here", f, b, DefaultLine()); !errors.Is(err, ErrSettings) || !strings.Contains(err.Error(), "report 50") {
		t.Error(err)
	}
}

func TestHIDExchange(t *testing.T) {
	c, f := hidConn(t, "numbered", Line{AnswerTimeout: time.Second})
	f.says(t, 5, '+', '5', '.', '0', '1')
	f.says(t, 0x41, 1) // no report of bytes
	f.says(t, 3, ' ', 'V', '\n')
	line := func(b []byte) (int, int) { return 0, bytes.IndexByte(b, '\n') + 1 }
	if frame, err := c.Exchange(t.Context(), nil, line); err != nil || string(frame) != "+5.01 V\n" {
		t.Fatalf("%q, %v", frame, err)
	}
	long := strings.Repeat("x", 70)
	if err := c.Send(t.Context(), long); err != nil {
		t.Fatal(err)
	}
	if a, b := f.heard(t), f.heard(t); a[0] != 63 || len(a) != 64 || b[0] != 8 || string(a[1:])+string(b[1:]) != long+"\n" {
		t.Fatalf("% x, % x", a, b)
	}
	_ = unix.Close(f.far)
	f.far = -1
	if _, err := c.Exchange(t.Context(), nil, line); !errors.Is(err, ErrGone) || c.Alive() {
		t.Fatalf("it was pulled: %v", err)
	}
}

// TestHIDReports: any bytes, through either kind of report, arrive as they were.
func TestHIDReports(t *testing.T) {
	for _, b := range bridges {
		t.Run(b.name, rapid.MakeCheck(func(t *rapid.T) {
			in := rapid.SliceOfN(rapid.Byte(), 0, 300).Draw(t, "bytes")
			var out []byte
			for _, r := range b.pack(in) {
				if b.name == "counted" {
					if r[0] != 0 || len(r) != 9 {
						t.Fatalf("% x: want no number and 8 bytes", r)
					}
					r = r[1:] // an input report has no number there
				}
				out = append(out, b.unpack(r)...)
			}
			if !slices.Equal(in, out) {
				t.Fatalf("% x became % x", in, out)
			}
			noise := rapid.SliceOfN(rapid.Byte(), 1, 64).Draw(t, "noise")
			if got := b.unpack(noise); len(got) >= len(noise) {
				t.Fatalf("% x: % x", noise, got)
			}
		}))
	}
}

func TestBridgeOf(t *testing.T) {
	for _, c := range []struct{ name, ids, want, says string }{
		{"", "10C4:EA80", "numbered", ""},
		{"", "1A86:E008", "counted", ""},
		{"counted", "1234:ABCD", "counted", ""},
		{"numbered", "1A86:E008", "numbered", ""},
		{"", "1234:ABCD", "", "1234:ABCD is none of the bridges known by their ids: numbered (10C4:EA80), counted ("},
		{"other", "1A86:E008", "", `bridge "other" is not known: use numbered or counted`},
	} {
		b, err := bridgeOf(c.name, c.ids)
		if b.name != c.want || (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s %s: %s, %v", c.name, c.ids, b.name, err)
		}
	}
}

func TestHIDAddress(t *testing.T) {
	a, err := ParseAddress("hid:10c4:ea80:0042?baud=2400&bridge=numbered")
	if err != nil || a.Place() != "hid:10C4:EA80:0042" || a.Bridge != "numbered" || a.Line.Baud != 2400 {
		t.Fatalf("%+v, %v", a, err)
	}
	if a, err = ParseAddress("hid:/dev/hidraw3"); err != nil || a.Place() != "hid:/dev/hidraw3" {
		t.Fatalf("%+v, %v", a, err)
	}
	for _, s := range []string{"hid:10C4", "hid:/dev/hidraw3?bridge=other", "hid:/dev/hidraw3?dtr=on", "serial:/dev/x?bridge=counted"} {
		if _, err := ParseAddress(s); !errors.Is(err, ErrAddress) {
			t.Errorf("%s: %v", s, err)
		}
	}
}

func TestHIDOpen(t *testing.T) {
	open := func(s string) error {
		a, err := ParseAddress(s)
		if err != nil {
			t.Fatal(err)
		}
		_, err = Open(context.Background(), a, Line{})
		return err
	}
	if err := open("hid:/dev/hidraw987?bridge=numbered"); !errors.Is(err, ErrNoPort) {
		t.Error(err)
	}
	if err := open("hid:/dev/hidraw987"); !errors.Is(err, ErrNoPort) || !strings.Contains(err.Error(), "steadyrail ports") {
		t.Error(err)
	}
	if err := open("hid:/dev/null"); !errors.Is(err, ErrAddress) || !strings.Contains(err.Error(), "?bridge=") {
		t.Error(err)
	}
	if err := open("hid:FFFF:FFFF:0"); !errors.Is(err, ErrNoPort) {
		t.Error(err)
	}
	if err := open("hid:/dev/null?bridge=numbered"); !errors.Is(err, ErrSettings) && !errors.Is(err, ErrBusy) {
		t.Error(err)
	}
}

func FuzzHIDReports(f *testing.F) {
	f.Add([]byte{5, '+', '5', '.', '0', '1'})
	f.Add([]byte{0xf3, 1, 2, 3, 4, 5, 6, 7})
	f.Fuzz(func(t *testing.T, report []byte) {
		if len(report) == 0 {
			return
		}
		for _, b := range bridges {
			if got := b.unpack(report); len(got) > len(report)-1 {
				t.Fatalf("%s: % x: % x", b.name, report, got)
			}
		}
	})
}
