package wire

import (
	"context"
	"encoding/binary"
	"errors"
	"io"
	"net"
	"strings"
	"sync"
	"testing"
	"time"
)

func openLAN(t *testing.T, link string, answer time.Duration) *Conn {
	t.Helper()
	c, err := tryLAN(t, link, answer)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	return c
}

func tryLAN(t *testing.T, link string, answer time.Duration) (*Conn, error) {
	t.Helper()
	a, err := ParseAddress(link)
	if err != nil {
		t.Fatal(err)
	}
	ctx, giveUp := context.WithTimeout(t.Context(), 400*time.Millisecond) // of opening
	defer giveUp()
	return Open(ctx, a, Line{AnswerTimeout: answer, ReadTimeout: 10 * time.Millisecond})
}

// peer accepts connections and hands each to serve with its number, from 0.
func peer(t *testing.T, serve func(n int, c net.Conn)) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	var mu sync.Mutex
	var conns []net.Conn
	all.Go(func() {
		for n := 0; ; n++ {
			c, err := l.Accept()
			if err != nil {
				return
			}
			mu.Lock()
			conns = append(conns, c)
			mu.Unlock()
			all.Go(func() { serve(n, c); _ = c.Close() })
		}
	})
	t.Cleanup(func() {
		_ = l.Close()
		mu.Lock()
		for _, c := range conns {
			_ = c.Close()
		}
		mu.Unlock()
		all.Wait()
	})
	return l.Addr().String()
}

// hislipPeer greets as an instrument does, with the two letters and numbers of
// the standard spelt out, and gives every synchronous message to answer.
func hislipPeer(t *testing.T, overlap byte, answer func(c net.Conn, head []byte, text string)) string {
	return peer(t, func(n int, c net.Conn) {
		for {
			head := make([]byte, 16)
			if _, err := io.ReadFull(c, head); err != nil {
				return
			}
			text := make([]byte, binary.BigEndian.Uint64(head[8:]))
			if _, err := io.ReadFull(c, text); err != nil {
				return
			}
			switch head[2] {
			case 0:
				_, _ = io.WriteString(c, "HS\x01"+string(overlap)+"\x01\x00\x00\x07"+"\x00\x00\x00\x00\x00\x00\x00\x00")
			case 17:
				if string(head[4:8]) != "\x00\x00\x00\x07" {
					t.Errorf("the second channel names session % x", head[4:8])
				}
				_, _ = io.WriteString(c, "HS\x12\x00\x00\x00ab"+"\x00\x00\x00\x00\x00\x00\x00\x00")
			case 15:
				_, _ = io.WriteString(c, "HS\x10\x00\x00\x00\x00\x00"+"\x00\x00\x00\x00\x00\x00\x00\x08"+"\x00\x00\x00\x00\x00\x00\x00\x18")
			case 24:
				_, _ = io.WriteString(c, "HS\x03\x01\x00\x00\x00\x00"+"\x00\x00\x00\x00\x00\x00\x00\x00") // does not know it
			case 19:
				_, _ = io.WriteString(c, "HS\x17\x00\x00\x00\x00\x00"+"\x00\x00\x00\x00\x00\x00\x00\x00")
			case 8:
				_, _ = io.WriteString(c, "HS\x09"+string(overlap)+"\x00\x00\x00\x00"+"\x00\x00\x00\x00\x00\x00\x00\x00")
			default:
				answer(c, head, string(text))
			}
		}
	})
}

// data is a message of an instrument: its number is id.
func data(kind byte, id uint32, text string) string {
	return string(appendHiSLIP(nil, kind, 0, id, []byte(text)))
}

// TestHiSLIPWriting holds pieces, numbers and the bit for a delivered answer
// against the standard. The peer takes 24 bytes, header included: 8 of payload.
func TestHiSLIPWriting(t *testing.T) {
	type message struct {
		kind, control byte
		id            uint32
		text          string
	}
	var got []message
	c := openLAN(t, "hislip:"+hislipPeer(t, 0, func(c net.Conn, head []byte, text string) {
		id := binary.BigEndian.Uint32(head[4:])
		got = append(got, message{head[2], head[3], id, text})
		if head[2] == 7 && strings.HasSuffix(text, "?\n") {
			_, _ = io.WriteString(c, data(6, 0xFFFFFFFF, "1.")+data(7, id, "5\n"))
		}
	}), 300*time.Millisecond)
	for _, q := range []string{"A?", "B?"} {
		if answer, err := c.Query(t.Context(), q); err != nil || answer != "1.5" {
			t.Fatalf("%q, %v", answer, err)
		}
	}
	if err := c.Send(t.Context(), "VOLT 12.25"); err != nil {
		t.Fatal(err)
	}
	if answer, err := c.Query(t.Context(), "A?"); err != nil || answer != "1.5" {
		t.Fatalf("%q, %v", answer, err)
	}
	want := []message{
		{7, 0, 0xFFFFFF00, "A?\n"}, {7, 1, 0xFFFFFF02, "B?\n"},
		{6, 1, 0xFFFFFF04, "VOLT 12."}, {7, 0, 0xFFFFFF06, "25\n"}, {7, 0, 0xFFFFFF08, "A?\n"},
	}
	if len(got) != len(want) {
		t.Fatalf("got %+v", got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("message %d is %+v, want %+v", i, got[i], want[i])
		}
	}
}

// TestHiSLIPNumbersWrap: after the highest number comes zero.
func TestHiSLIPNumbersWrap(t *testing.T) {
	c := openLAN(t, "hislip:"+hislipPeer(t, 0, func(c net.Conn, head []byte, text string) {
		_, _ = io.WriteString(c, data(7, binary.BigEndian.Uint32(head[4:]), strings.TrimSuffix(text, "?\n")+"\n"))
	}), 300*time.Millisecond)
	for range 200 {
		if got, err := c.Query(t.Context(), "ABC?"); err != nil || got != "ABC" {
			t.Fatalf("%q, %v", got, err)
		}
	}
}

// TestHiSLIPHostile: what a far end may send instead of the answer to the first
// message, 0xFFFFFF00, and what comes of it.
func TestHiSLIPHostile(t *testing.T) {
	const id = 0xFFFFFF00
	right := data(7, id, "1.5\n")
	huge := "HS\x07\x00\xff\xff\xff\x00\xff\xff\xff\xff\xff\xff\xff\xff"
	for _, c := range []struct {
		name, sends string
		answer      string // and no error
		err         error
		says        string
	}{
		{"right", right, "1.5", nil, ""},
		{"without a line end", data(7, id, "1.5"), "1.5", nil, ""},
		{"empty", data(7, id, ""), "", nil, ""},
		{"in pieces", data(6, id, "1.") + data(6, id, "") + data(7, id, "5\n"), "1.5", nil, ""},
		{"answers to old numbers first", data(7, id-2, "9.9\n") + data(6, id-4, "8") + right, "1.5", nil, ""},
		{"pieces of an unnumbered old one", data(6, 0xFFFFFFFF, "9.9") + data(7, id-2, "9\n") + right, "1.5", nil, ""},
		{"interrupted", data(6, id, "9.9") + data(13, 0, "") + right, "1.5", nil, ""},
		{"unknown types", data(99, 0, "what") + data(200, 0, "") + right, "1.5", nil, ""},
		{"only an old one", data(7, id-2, "9.9\n"), "", ErrTimeout, ""},
		{"truncated header", right[:9], "", ErrTimeout, ""},
		{"truncated text", right[:18], "", ErrTimeout, ""},
		{"two lines", data(7, id, "1.5\n1.6\n"), "", ErrInDoubt, "1.6"},
		{"another prologue", "HTTP/1.1 400 Bad Request\r\n", "", ErrGone, "begins no HiSLIP message"},
		{"a length without end", huge, "", ErrGone, "18446744073709551615"},
		{"an old message of that length", "HS\x07\x00\xff\xff\xfe\x00" + huge[8:], "", ErrGone, "18446744073709551615"},
		{"longer than a line", data(7, id, strings.Repeat("x", 5000)), "", ErrGarbled, "more than"},
		{"too many clients", data(2, 0, "") + string(appendHiSLIP(nil, 2, 4, 0, []byte("go away"))), "", ErrGone, "it ended the connection"},
		{"an error", string(appendHiSLIP(nil, 3, 4, 0, nil)), "", ErrGone, "message too large"},
		{"an unknown error", string(appendHiSLIP(nil, 2, 77, 0, []byte("because"))), "", ErrGone, `code 77, "because"`},
		{"hangs up in mid-message", right[:18] + "\x00HANGUP", "", ErrGone, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			conn := openLAN(t, "hislip:"+hislipPeer(t, 0, func(far net.Conn, head []byte, _ string) {
				sends, hangUp := strings.CutSuffix(c.sends, "\x00HANGUP")
				_, _ = io.WriteString(far, sends)
				if hangUp {
					_ = far.Close()
				}
			}), 60*time.Millisecond)
			got, err := conn.Query(t.Context(), "A?")
			if got != c.answer || c.err == nil && err != nil || c.err != nil && (!errors.Is(err, c.err) || !strings.Contains(err.Error(), c.says)) {
				t.Fatalf("%q, %v, want %q, %v %q", got, err, c.answer, c.err, c.says)
			}
		})
	}
}

// TestHiSLIPOverlapped: an instrument that insists on the mode in which answers
// have no number is refused, with words.
func TestHiSLIPOverlapped(t *testing.T) {
	_, err := tryLAN(t, "hislip:"+hislipPeer(t, 1, nil), 50*time.Millisecond)
	if err == nil || !strings.Contains(err.Error(), "overlapped mode only") {
		t.Fatalf("got %v", err)
	}
}

// TestLANOpeningHostile: what may happen between an accepted connection and an
// instrument that can be asked.
func TestLANOpeningHostile(t *testing.T) {
	for _, c := range []struct {
		name  string
		serve func(n int, c net.Conn)
		want  error
		says  string
	}{
		{"silent", func(_ int, c net.Conn) { _, _ = io.Copy(io.Discard, c) }, ErrBusy, "someone else"},
		{"hangs up", func(_ int, c net.Conn) { _, _ = c.Read(make([]byte, 1)) }, ErrBusy, "someone else"},
		{"speaks something else", func(_ int, c net.Conn) {
			_, _ = io.WriteString(c, "220 mail.example ESMTP\r\n500 what?\r\n")
			_, _ = io.Copy(io.Discard, c)
		}, ErrNoPort, "does not speak"},
		{"zeros", func(_ int, c net.Conn) {
			_, _ = c.Write(make([]byte, 4096))
			_, _ = io.Copy(io.Discard, c)
		}, nil, ""},
		{"lengths without end", func(_ int, c net.Conn) {
			_, _ = io.WriteString(c, "\x7f\xff\xff\xff\xff\xff\xff\xff")
			_, _ = io.Copy(io.Discard, c)
		}, ErrNoPort, "does not speak"},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, kind := range []string{KindHiSLIP, KindVXI11} {
				_, err := tryLAN(t, kind+":"+peer(t, c.serve), 50*time.Millisecond)
				if err == nil || c.want != nil && !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) {
					t.Errorf("%s: got %v", kind, err)
				}
			}
		})
	}
}

// vxi11Peer opens a link and gives every other call to answer, which returns
// the whole records to send.
func vxi11Peer(t *testing.T, answer func(xid, procedure uint32, args []byte) string) string {
	return peer(t, func(_ int, c net.Conn) {
		for {
			mark := make([]byte, 4)
			if _, err := io.ReadFull(c, mark); err != nil {
				return
			}
			call := make([]byte, binary.BigEndian.Uint32(mark)&0xFFFF)
			if _, err := io.ReadFull(c, call); err != nil {
				return
			}
			xid, procedure := binary.BigEndian.Uint32(call), binary.BigEndian.Uint32(call[20:])
			out := answer(xid, procedure, call[40:])
			if out == "" {
				switch procedure {
				case 10:
					out = record(xid, 0, 5, 0, 1024)
				case 11:
					out = record(xid, 0, binary.BigEndian.Uint32(call[40+16:]))
				case 15, 23:
					out = record(xid, 0)
				}
			}
			out, hangUp := strings.CutSuffix(out, "HANGUP")
			if _, err := io.WriteString(c, out); err != nil || hangUp {
				return
			}
		}
	})
}

func record(xid uint32, results ...uint32) string {
	return string(replyRecord(xid, 0, appendUints(nil, results...)))
}

// readReply is the answer to a read.
func readReply(xid, code, reason uint32, text string) string {
	return string(replyRecord(xid, 0, appendOpaque(appendUints(nil, code, reason), []byte(text))))
}

// TestVXI11Hostile: what a far end may send instead of the answer to a read.
func TestVXI11Hostile(t *testing.T) {
	for _, c := range []struct {
		name   string
		sends  func(xid uint32) string
		answer string
		err    error
		says   string
	}{
		{"right", func(x uint32) string { return readReply(x, 0, 4, "1.5\n") }, "1.5", nil, ""},
		{"end and line end in one", func(x uint32) string { return readReply(x, 0, 6, "1.5\n") }, "1.5", nil, ""},
		{"without a line end", func(x uint32) string { return readReply(x, 0, 4, "1.5") }, "1.5", nil, ""},
		{"empty", func(x uint32) string { return readReply(x, 0, 4, "") }, "", nil, ""},
		{"answers to old calls first", func(x uint32) string {
			return readReply(x-1, 0, 4, "9.9\n") + readReply(x-7, 0, 4, "8\n") + readReply(x, 0, 4, "1.5\n")
		}, "1.5", nil, ""},
		{"only to old calls", func(x uint32) string { return readReply(x-1, 0, 4, "9.9\n") }, "", ErrTimeout, ""},
		{"to a call to come", func(x uint32) string { return readReply(x+1, 0, 4, "9.9\n") + readReply(x, 0, 4, "1.5\n") }, "1.5", nil, ""},
		{"truncated record", func(x uint32) string { return readReply(x, 0, 4, "1.5\n")[:30] }, "", ErrTimeout, ""},
		{"text longer than the record", func(x uint32) string { return record(x, 0, 4, 0x7fffffff) }, "", ErrGone, "cannot be read"},
		{"record of two gigabytes", func(x uint32) string { return "\xff\xff\xff\xff" + readReply(x, 0, 4, "1.5\n") }, "", ErrGone, "2147483647"},
		{"fragments without end", func(x uint32) string { return strings.Repeat("\x00\x00\x04\x00"+strings.Repeat("x", 1024), 9) }, "", ErrGone, "announces"},
		{"a call", func(x uint32) string { return string(appendCall(nil, x, 1, 1, 1, nil)) }, "", ErrGone, "no reply"},
		{"no such procedure", func(x uint32) string { return string(replyRecord(x, 3, nil)) }, "", ErrGone, "no such procedure"},
		{"denied", func(x uint32) string {
			return string(appendUints(nil, 1<<31|20, x, 1, 1, 1, 5))
		}, "", ErrGone, "credentials"},
		{"locked", func(x uint32) string { return readReply(x, 11, 0, "") }, "", ErrBusy, "someone else"},
		{"I/O error", func(x uint32) string { return readReply(x, 17, 0, "") }, "", ErrGone, "I/O error (error 17)"},
		{"an error nobody knows", func(x uint32) string { return readReply(x, 99, 0, "") }, "", ErrGone, "unknown (error 99)"},
		{"its own time-out", func(x uint32) string { return readReply(x, 15, 0, "") }, "", ErrTimeout, ""},
		{"longer than a line", func(x uint32) string { return readReply(x, 0, 1, strings.Repeat("x", 1026)) }, "", ErrGarbled, "more than"},
		{"more than asked for", func(x uint32) string { return readReply(x, 0, 1, strings.Repeat("x", 2000)) }, "", ErrGone, "cannot be read"},
		{"hangs up in mid-record", func(x uint32) string { return readReply(x, 0, 4, "1.5\n")[:30] + "HANGUP" }, "", ErrGone, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			reads := 0
			conn := openLAN(t, "vxi11:"+vxi11Peer(t, func(xid, procedure uint32, _ []byte) string {
				if procedure != 12 {
					return ""
				}
				if reads++; reads > 1 && c.name != "its own time-out" {
					return readReply(xid, 15, 0, "")
				}
				return c.sends(xid)
			}), 60*time.Millisecond)
			got, err := conn.Query(t.Context(), "A?")
			if got != c.answer || c.err == nil && err != nil || c.err != nil && (!errors.Is(err, c.err) || !strings.Contains(err.Error(), c.says)) {
				t.Fatalf("%q, %v, want %q, %v %q", got, err, c.answer, c.err, c.says)
			}
		})
	}
}

// TestVXI11LinkRefused: what create_link answers instead of a link.
func TestVXI11LinkRefused(t *testing.T) {
	for code, want := range map[uint32]error{3: ErrNoPort, 21: ErrNoPort, 9: ErrBusy, 11: ErrBusy, 17: ErrNoPort} {
		_, err := tryLAN(t, "vxi11:"+vxi11Peer(t, func(xid, procedure uint32, _ []byte) string {
			return record(xid, code, 0, 0, 0)
		}), 50*time.Millisecond)
		if !errors.Is(err, want) {
			t.Errorf("error %d: got %v", code, err)
		}
	}
}

// TestVXI11NoClear: an instrument without a device clear is read until it has
// no more to say.
func TestVXI11NoClear(t *testing.T) {
	held := false
	c := openLAN(t, "vxi11:"+vxi11Peer(t, func(xid, procedure uint32, _ []byte) string {
		switch {
		case procedure == 15:
			held = true
			return record(xid, 8)
		case procedure == 12 && held:
			held = false
			return readReply(xid, 0, 4, "late\n")
		case procedure == 12:
			return readReply(xid, 15, 0, "")
		}
		return ""
	}), 60*time.Millisecond)
	if _, err := c.Query(t.Context(), "A?"); !errors.Is(err, ErrTimeout) {
		t.Fatalf("got %v", err)
	}
	if err := c.Drain(t.Context()); err != nil {
		t.Fatal(err)
	}
	if held {
		t.Fatal("what it had to say was left")
	}
}
