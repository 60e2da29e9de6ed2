package wire

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"
)

// The frames of these tests are 7E, a length, that many bytes, and the sum of
// all before it; written for them alone.
func testFrame(payload []byte) []byte {
	f := append([]byte{0x7e, byte(len(payload))}, payload...)
	return append(f, sum(f))
}

func sum(b []byte) (s byte) {
	for _, x := range b {
		s += x
	}
	return s
}

// splitTest finds such a frame.
func splitTest(b []byte) (skip, length int) {
	for skip < len(b) {
		rest := b[skip:]
		if rest[0] != 0x7e {
			skip++
			continue
		}
		if len(rest) < 2 {
			return skip, 0
		}
		if rest[1] > 20 {
			skip++
			continue
		}
		n := int(rest[1]) + 3
		if len(rest) < n {
			return skip, 0
		}
		if sum(rest[:n-1]) == rest[n-1] {
			return skip, n
		}
		skip++
	}
	return skip, 0
}

// inPieces makes a scripted port that gives these pieces, one a read.
func inPieces(pieces ...[]byte) *scriptedPort {
	p := &scriptedPort{}
	for _, piece := range pieces {
		p.reads = append(p.reads, scripted{data: piece})
	}
	return p
}

// thenGone makes one that hangs up behind them, so that a fuzz target need not
// wait.
func thenGone(pieces [][]byte) *scriptedPort {
	p := inPieces(pieces...)
	p.hangsUp = true
	return p
}

// told reports whether an error is one of those that a hostile far end can cause.
func told(err error) bool {
	return errors.Is(err, ErrTimeout) || errors.Is(err, ErrGarbled) || errors.Is(err, ErrInDoubt) || errors.Is(err, ErrGone)
}

func framed(p port, over Line) *Conn {
	return newConn("here", p, DefaultLine().With(quick()).With(Line{AnswerTimeout: 20 * time.Millisecond}).With(over))
}

func TestExchange(t *testing.T) {
	answer := testFrame([]byte("5.012"))
	for _, c := range []struct {
		name   string
		pieces [][]byte
		err    error
		says   string
	}{
		{"whole", [][]byte{answer}, nil, ""},
		{"in single bytes", chop(answer, 1), nil, ""},
		{"noise in front", [][]byte{[]byte("\x00\xff"), answer}, nil, ""},
		{"a byte behind", [][]byte{slices.Concat(answer, []byte{0})}, ErrInDoubt, "behind the answer"},
		{"two answers", [][]byte{slices.Concat(answer, answer)}, ErrInDoubt, "behind the answer"},
		{"cut", [][]byte{answer[:4]}, ErrGarbled, "no whole frame"},
		{"wrong sum", [][]byte{append(slices.Clone(answer[:len(answer)-1]), 0)}, ErrTimeout, ""},
		{"nothing", nil, ErrTimeout, ""},
		{"without end", chop(bytes.Repeat([]byte{0x7e, 20}, 700), 100), ErrGarbled, "no whole frame"},
	} {
		conn := framed(inPieces(c.pieces...), Line{})
		got, err := conn.Exchange(bg, []byte{1, 2}, splitTest)
		if !errors.Is(err, c.err) || (err != nil && !strings.Contains(err.Error(), c.says)) || (err == nil && !bytes.Equal(got, answer)) {
			t.Errorf("%s: got % x, %v", c.name, got, err)
		}
		_, err = conn.Exchange(bg, []byte{1, 2}, splitTest)
		if c.err != nil && !errors.Is(err, ErrInDoubt) {
			t.Errorf("%s: the next exchange was not refused: %v", c.name, err)
		}
	}
}

// chop cuts into pieces of n bytes.
func chop(b []byte, n int) (pieces [][]byte) {
	for piece := range slices.Chunk(b, n) {
		pieces = append(pieces, piece)
	}
	return pieces
}

// TestSplitOutOfItsMind: a reader of frames that has a mistake in it is told so,
// and does not end the program.
func TestSplitOutOfItsMind(t *testing.T) {
	for _, c := range [][2]int{{-1, 0}, {0, -1}, {-3, 3}, {4, 0}, {0, 4}, {2, 2}, {1 << 30, 1 << 30}, {-1 << 30, 1 << 30}} {
		split := func([]byte) (int, int) { return c[0], c[1] }
		for name, call := range map[string]func(*Conn) error{
			"asked":  func(conn *Conn) error { _, err := conn.Exchange(bg, []byte{1}, split); return err },
			"listen": func(conn *Conn) error { _, err := conn.Exchange(bg, nil, split); return err },
			"latest": func(conn *Conn) error { _, _, err := Latest(bg, conn, split); return err },
		} {
			if err := call(framed(inPieces([]byte("abc")), Line{})); !errors.Is(err, ErrGarbled) {
				t.Errorf("%v, %s: got %v", c, name, err)
			}
		}
	}
}

// TestBytesForTheHandshake: what would stop the line is not sent over it.
func TestBytesForTheHandshake(t *testing.T) {
	p := inPieces(testFrame(nil))
	conn := framed(p, Line{Handshake: "xon-xoff"})
	if _, err := conn.Exchange(bg, []byte{1, 0x13}, splitTest); !errors.Is(err, ErrAddress) || len(p.sent) > 0 {
		t.Fatalf("got %v, sent % x", err, p.sent)
	}
	if _, err := conn.Exchange(bg, []byte{1, 0x12}, splitTest); err != nil {
		t.Fatal(err)
	}
}

// TestListenFindsAll: whatever noise stands between frames, and in whatever
// pieces all of it comes, every frame is found once, in order, none is invented,
// and none is lost.
func TestListenFindsAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var stream []byte
		var want [][]byte
		for range rapid.IntRange(0, 12).Draw(t, "frames") {
			// Noise without the start byte: with it a false frame could be in it,
			// which no reader of such frames could tell from a true one.
			noise := rapid.SliceOfN(rapid.ByteRange(0x80, 0xff), 0, 40).Draw(t, "noise")
			frame := testFrame(rapid.SliceOfN(rapid.ByteRange(0, 0x7d), 0, 20).Draw(t, "payload"))
			stream = slices.Concat(stream, noise, frame)
			want = append(want, frame)
		}
		p := &scriptedPort{}
		for rest := stream; len(rest) > 0; {
			n := rapid.IntRange(1, len(rest)).Draw(t, "piece")
			p.reads = append(p.reads, scripted{data: rest[:n]})
			rest = rest[n:]
		}
		conn := framed(p, Line{AnswerTimeout: 5 * time.Millisecond})
		for i, frame := range want {
			got, err := conn.Exchange(bg, nil, splitTest)
			if err != nil || !bytes.Equal(got, frame) {
				t.Fatalf("frame %d: got % x, %v; want % x", i, got, err, frame)
			}
		}
		if got, err := conn.Exchange(bg, nil, splitTest); err == nil {
			t.Fatalf("invented % x", got)
		}
	})
}

// streamPort is a far end that talks by itself: what it has said by now lies in
// the system's buffer.
type streamPort struct {
	scriptedPort
	start time.Time
	says  []said
}

type said struct {
	at   time.Duration
	data []byte
}

func (p *streamPort) glance(b []byte) (n int, err error) {
	for len(p.says) > 0 && n < len(b) && time.Since(p.start) >= p.says[0].at {
		k := copy(b[n:], p.says[0].data)
		n += k
		if p.says[0].data = p.says[0].data[k:]; len(p.says[0].data) == 0 {
			p.says = p.says[1:]
		}
	}
	return n, nil
}

func (p *streamPort) read(b []byte, d time.Duration) (int, error) {
	for end := time.Now().Add(d); ; time.Sleep(time.Millisecond) {
		if n, _ := p.glance(b); n > 0 || !time.Now().Before(end) {
			return n, nil
		}
	}
}

// TestLatest: after a pause the newest frame comes, with the time it may have
// waited; one that is waited for has waited no time. The plain exchange gives
// the oldest.
func TestLatest(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := &streamPort{start: time.Now()}
		for i := range 10 {
			f := testFrame(fmt.Appendf(nil, "%d", i))
			p.says = append(p.says, said{time.Duration(i)*100*time.Millisecond + 95*time.Millisecond, f[:2]},
				said{time.Duration(i+1) * 100 * time.Millisecond, f[2:]})
		}
		conn := newConn("here", p, DefaultLine())
		number := func(frame []byte, err error) string {
			t.Helper()
			if err != nil {
				t.Fatal(err)
			}
			return string(frame[2 : len(frame)-1])
		}
		check := func(want string, least, most, after time.Duration) {
			t.Helper()
			frame, waited, err := Latest(bg, conn, splitTest)
			if got := number(frame, err); got != want || waited < least || waited > most {
				t.Errorf("got frame %s, waited %v; want %s, %v to %v", got, waited, want, least, most)
			}
			if now := time.Since(p.start); now < after || now > after+5*time.Millisecond {
				t.Errorf("it came at %v, want %v", now, after)
			}
		}
		const ms = time.Millisecond
		check("0", 0, 0, 100*ms) // waited for
		time.Sleep(350 * ms)     // 1, 2 and 3 come; 3 at 400
		check("3", 50*ms, 350*ms, 450*ms)
		check("4", 0, 0, 500*ms)
		time.Sleep(97 * ms) // the beginning of 5 lies there
		check("5", 0, 0, 600*ms)
		time.Sleep(300 * ms)
		if got := number(conn.Exchange(bg, nil, splitTest)); got != "6" {
			t.Errorf("the plain exchange gives %s, want the oldest", got)
		}
		// 7 and 8 were read with it.
		check("8", 0, 300*ms, 900*ms)
		check("9", 0, 0, 1000*ms)
		if _, _, err := Latest(bg, conn, splitTest); !errors.Is(err, ErrTimeout) {
			t.Errorf("got %v", err)
		}
	})
}

// TestLatestOfOthers: a link that cannot tell gives its next frame, and a
// recording of it is played back.
func TestLatestOfOthers(t *testing.T) {
	var file bytes.Buffer
	frame := testFrame([]byte("1"))
	r := NewRecorder(&fakeLink{answers: []any{string(frame), ErrTimeout}}, &file)
	got, waited, err := Latest(bg, r, splitTest)
	if !bytes.Equal(got, frame) || waited != 0 || err != nil {
		t.Fatalf("% x, %v, %v", got, waited, err)
	}
	if _, _, err := Latest(bg, r, splitTest); !errors.Is(err, ErrTimeout) {
		t.Fatal(err)
	}
	p, err := NewPlayer(&file)
	if err != nil {
		t.Fatalf("%v\n%s", err, file.String())
	}
	if got, _, err := Latest(bg, p, splitTest); !bytes.Equal(got, frame) {
		t.Fatalf("% x, %v", got, err)
	}
	if _, _, err := Latest(bg, p, splitTest); !errors.Is(err, ErrTimeout) {
		t.Fatal(err)
	}
	if err := p.Done(); err != nil {
		t.Fatal(err)
	}
}

// FuzzExchange: a hostile far end sends anything in any pieces. What comes out
// is a frame that stands in it, or one of the sentinels.
func FuzzExchange(f *testing.F) {
	f.Add([]byte("\x7e\x01a\xe0"), uint8(1), 0, 4)
	f.Add([]byte("\x7e\x7e\x7e\x00\x7e"), uint8(2), 1, 2)
	f.Add(bytes.Repeat([]byte{0x7e, 20}, 600), uint8(255), -1, 1<<30)
	f.Fuzz(func(t *testing.T, stream []byte, piece uint8, skip, length int) {
		if len(stream) > 4000 {
			return
		}
		pieces := chop(stream, int(piece)+1)
		hostile := func([]byte) (int, int) { return skip, length }
		for _, split := range []Split{splitTest, hostile} {
			conn := framed(thenGone(pieces), Line{})
			got, err := conn.Exchange(bg, []byte{1}, split)
			switch {
			case err == nil && !bytes.Contains(stream, got):
				t.Fatalf("% x does not stand in % x", got, stream)
			case err == nil && len(got) == 0:
				t.Fatal("an empty frame")
			case err != nil && !told(err):
				t.Fatal(err)
			}
			listener := framed(thenGone(pieces), Line{})
			for range 3 {
				if got, err := listener.Exchange(bg, nil, split); err == nil && !bytes.Contains(stream, got) {
					t.Fatalf("% x does not stand in % x", got, stream)
				}
			}
		}
	})
}

// FuzzQuery: the same for lines, with and without an echo.
func FuzzQuery(f *testing.F) {
	f.Add([]byte("+5.0\n"), uint8(0), false)
	f.Add([]byte("READ?\r\n+5.0\r\n"), uint8(3), true)
	f.Add([]byte("READ?"), uint8(30), true)
	f.Fuzz(func(t *testing.T, stream []byte, piece uint8, echo bool) {
		if len(stream) > 4000 {
			return
		}
		l := Line{}
		if echo {
			l.Echo = "on"
		}
		conn := framed(thenGone(chop(stream, int(piece)+1)), l)
		got, err := conn.Query(context.Background(), "READ?")
		switch {
		case err == nil && !bytes.Contains(stream, []byte(got)):
			t.Fatalf("%q does not stand in %q", got, stream)
		case err == nil && echo && !bytes.Contains(stream, []byte("READ?")):
			t.Fatalf("%q was answered to nothing: %q", got, stream)
		case err != nil && !told(err):
			t.Fatal(err)
		}
	})
}
