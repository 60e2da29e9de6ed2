//go:build unix

package wire

import (
	"context"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
	"time"
)

func TestPhrases(t *testing.T) {
	f := plug(t, write("1\n"))
	l := quick().With(Line{Opening: []string{"SYST:REM", "*CLS"}, Closing: []string{"SYST:LOC"}})
	conn := openTest(t, f.device, l)
	// The scripted far end answers the phrases as well, so what it says is
	// thrown away first, as every driver does.
	waitFor(t, "the opening phrases", func() bool { return len(f.requests()) == 2 })
	if err := conn.Drain(bg); err != nil {
		t.Fatal(err)
	}
	if _, err := conn.Query(bg, "A?"); err != nil {
		t.Fatal(err)
	}
	if err := conn.Close(); err != nil {
		t.Fatal(err)
	}
	want := []string{"SYST:REM", "*CLS", "A?", "SYST:LOC"}
	waitFor(t, "the closing phrase", func() bool { return len(f.requests()) == len(want) })
	if got := f.requests(); !slices.Equal(got, want) {
		t.Fatalf("got %q", got)
	}
	_ = conn.Close()
	if n := len(f.requests()); n != len(want) {
		t.Fatalf("closing twice said goodbye twice")
	}
}

// TestNoFarewellAfterALoss: what is gone is not spoken to.
func TestNoFarewellAfterALoss(t *testing.T) {
	p := &scriptedPort{}
	conn := newConn("here", p, DefaultLine().With(Line{Closing: []string{"SYST:LOC"}}))
	p.reads = append(p.reads, scripted{err: io.EOF})
	if _, err := conn.Query(bg, "A?"); !errors.Is(err, ErrGone) {
		t.Fatal(err)
	}
	_ = conn.Close()
	if got := string(p.sent); got != "A?\n" {
		t.Fatalf("sent %q", got)
	}
}

// TestOpeningFails: no half-open link stays, and no goodbye is said.
func TestOpeningFails(t *testing.T) {
	p := &scriptedPort{}
	conn := newConn("here", p, DefaultLine().With(Line{Opening: []string{"A"}, Closing: []string{"B"}}))
	ctx, cancel := context.WithCancel(bg)
	cancel()
	if err := conn.open(ctx); !errors.Is(err, context.Canceled) || !strings.Contains(err.Error(), "opening phrase") {
		t.Fatal(err)
	}
	if !p.closed || len(p.sent) > 0 {
		t.Fatalf("closed %v, sent %q", p.closed, p.sent)
	}
}

// TestPause: a request follows an answer, and another request, not before the
// pause; the times are those of the system, and only a lower bound is checked.
func TestPause(t *testing.T) {
	const pause = 30 * time.Millisecond
	heard := make(chan time.Time, 3)
	f := plug(t, func(_ string, w io.Writer) {
		heard <- time.Now()
		_, _ = io.WriteString(w, "1\n")
	})
	conn := openTest(t, f.device, quick().With(Line{Pause: pause}))
	for range 3 {
		if _, err := conn.Query(bg, "A?"); err != nil {
			t.Fatal(err)
		}
	}
	before := <-heard
	for i := range 2 {
		now := <-heard
		if gap := now.Sub(before); gap < pause {
			t.Errorf("request %d came %v after the one before", i+2, gap)
		}
		before = now
	}
	ctx, cancel := context.WithCancel(bg)
	cancel()
	conn.line.Pause = 10 * time.Second
	if _, err := conn.Query(ctx, "A?"); !errors.Is(err, context.Canceled) {
		t.Fatal(err)
	}
	go func() {
		time.Sleep(10 * time.Millisecond)
		_ = conn.Close()
	}()
	if _, err := conn.Query(bg, "A?"); !errors.Is(err, ErrClosed) {
		t.Fatal(err)
	}
}

// TestEcho: what the far end or the adapter sends back is dropped, if it is
// what was sent, and never taken for an answer.
func TestEcho(t *testing.T) {
	for _, c := range []struct {
		name, answer, want string
		err                error
		says               string
	}{
		{"echo and answer", "READ?\r\n+5.0\n", "+5.0", nil, ""},
		{"the answer is what was asked", "READ?\nREAD?\n", "READ?", nil, ""},
		{"no echo", "+5.0\n", "", ErrGarbled, `the echo is "+5.0"`},
		{"collision", "REXD?\n+5.0\n", "", ErrGarbled, "alone on its line"},
		{"echo alone", "READ?\n", "", ErrTimeout, "timed out"},
		{"nothing", "", "", ErrTimeout, "waiting for the echo"},
		{"two answers", "READ?\n1\n2\n", "", ErrInDoubt, "behind it"},
	} {
		f := plug(t, write(c.answer))
		conn := openTest(t, f.device, quick().With(Line{Echo: "on"}))
		got, err := conn.Query(bg, "READ?")
		if got != c.want || !errors.Is(err, c.err) || (err != nil && !strings.Contains(err.Error(), c.says)) {
			t.Errorf("%s: got %q, %v", c.name, got, err)
		}
		if err != nil && !errors.Is(conn.leaveDoubt(), ErrInDoubt) {
			t.Errorf("%s: no doubt is left", c.name)
		}
	}
}

// leaveDoubt asks whether the next query would be refused.
func (c *Conn) leaveDoubt() error {
	_, err := c.Query(bg, "NEXT?")
	return err
}

func TestEchoOfSend(t *testing.T) {
	f := plug(t, func(request string, w io.Writer) {
		_, _ = io.WriteString(w, request+"\r\n")
		if strings.HasSuffix(request, "?") {
			_, _ = io.WriteString(w, "1\r\n")
		}
	})
	conn := openTest(t, f.device, quick().With(Line{Echo: "on"}))
	for range 3 {
		if err := conn.Send(bg, "OUTP OFF"); err != nil {
			t.Fatal(err)
		}
		if got, err := conn.Query(bg, "A?"); got != "1" {
			t.Fatalf("%q, %v", got, err)
		}
	}
}

// TestEchoOfBytes is the two-wire adapter that hears itself.
func TestEchoOfBytes(t *testing.T) {
	request := []byte{1, 3, 0, 0, 0, 1, 0x84, 0x0a}
	answer := []byte{1, 3, 2, 0, 5, 0x78, 0x47}
	whole := func(received []byte) (int, int) {
		if len(received) < len(answer) {
			return 0, 0
		}
		return 0, len(answer)
	}
	for _, c := range []struct {
		name  string
		reads [][]byte
		err   error
	}{
		{"together", [][]byte{slices.Concat(request, answer)}, nil},
		{"in parts", [][]byte{request[:3], slices.Concat(request[3:], answer[:1]), answer[1:]}, nil},
		{"collision", [][]byte{{1, 3, 0, 0xff}}, ErrGarbled},
		{"answer only", [][]byte{answer}, ErrGarbled},
		{"behind it", [][]byte{request, answer, nil}, nil},
		{"a byte more", [][]byte{slices.Concat(request, answer, []byte{0})}, ErrInDoubt},
		{"cut", [][]byte{request[:7]}, ErrTimeout},
	} {
		p := &scriptedPort{}
		for _, r := range c.reads {
			p.reads = append(p.reads, scripted{data: r})
		}
		conn := newConn("here", p, DefaultLine().With(quick()).With(Line{Echo: "on"}))
		got, err := conn.Exchange(bg, request, whole)
		if !errors.Is(err, c.err) || (c.err == nil && string(got) != string(answer)) {
			t.Errorf("%s: got % x, %v", c.name, got, err)
		}
	}
}
