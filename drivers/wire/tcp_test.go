package wire

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"
	"testing"
	"time"
)

// listen serves one client after another with script, one call a line.
func listen(t *testing.T, script func(request string, c net.Conn)) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			in := bufio.NewReader(c)
			for {
				line, err := in.ReadString('\n')
				if err != nil {
					break
				}
				script(strings.TrimRight(line, "\r\n"), c)
			}
			_ = c.Close()
		}
	}()
	t.Cleanup(func() { _ = l.Close(); <-ended })
	return l.Addr().String()
}

func dial(t *testing.T, where string) *Conn {
	t.Helper()
	a, err := ParseAddress("tcp:" + where + "?answer=80ms")
	if err != nil {
		t.Fatal(err)
	}
	c, err := Open(t.Context(), a, Line{ReadTimeout: 10 * time.Millisecond, Quiet: 20 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	return c
}

func TestTCP(t *testing.T) {
	ctx := t.Context()
	c := dial(t, listen(t, func(request string, c net.Conn) {
		switch request {
		case "SILENCE?":
		case "LATE?":
			time.Sleep(100 * time.Millisecond)
			_, _ = io.WriteString(c, "late\n")
		case "TWICE":
			_, _ = io.WriteString(c, "unasked\n")
		default:
			_, _ = io.WriteString(c, "answer to "+request+"\r\n")
		}
	}))
	for i := range 20 {
		q := fmt.Sprintf("Q%d?", i)
		if got, err := c.Query(ctx, q); got != "answer to "+q {
			t.Fatalf("%s: %q, %v", q, got, err)
		}
	}
	if _, err := c.Query(ctx, "LATE?"); !errors.Is(err, ErrTimeout) {
		t.Fatalf("got %v", err)
	}
	time.Sleep(50 * time.Millisecond) // until it was surely sent
	if _, err := c.Query(ctx, "A?"); !errors.Is(err, ErrInDoubt) {
		t.Fatalf("got %v", err)
	}
	if err := c.Drain(ctx); err != nil {
		t.Fatal(err)
	}
	if got, err := c.Query(ctx, "A?"); got != "answer to A?" {
		t.Fatalf("%q, %v", got, err)
	}
	if err := c.Send(ctx, "TWICE"); err != nil {
		t.Fatal(err)
	}
	time.Sleep(20 * time.Millisecond) // until it surely lies there
	if _, err := c.Query(ctx, "A?"); !errors.Is(err, ErrInDoubt) || !strings.Contains(err.Error(), "unasked") {
		t.Fatalf("got %v", err)
	}
}

func TestTCPNobodyListens(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	where := l.Addr().String()
	_ = l.Close()
	_, err = Open(t.Context(), Address{Kind: KindTCP, Path: where}, Line{})
	if !errors.Is(err, ErrNoPort) || !strings.Contains(err.Error(), "nothing listens") {
		t.Fatalf("got %v", err)
	}
}

// TestTCPOneClientOnly: an instrument that hangs up at once has somebody else.
func TestTCPOneClientOnly(t *testing.T) {
	c := dial(t, listen(t, func(_ string, c net.Conn) { _ = c.Close() }))
	_, err := c.Query(t.Context(), "*IDN?")
	if !errors.Is(err, ErrGone) || !strings.Contains(err.Error(), "someone else") {
		t.Fatalf("got %v", err)
	}
	if err := c.Send(t.Context(), "A"); !errors.Is(err, ErrGone) {
		t.Fatalf("got %v", err)
	}
}

// TestTCPSilent: an instrument that has somebody else may also accept and say
// nothing. Once it has answered, silence is only silence.
func TestTCPSilent(t *testing.T) {
	mute := true
	c := dial(t, listen(t, func(_ string, c net.Conn) {
		if !mute {
			_, _ = io.WriteString(c, "1\n")
		}
		mute = !mute
	}))
	_, err := c.Query(t.Context(), "*IDN?")
	if !errors.Is(err, ErrTimeout) || !strings.Contains(err.Error(), "someone else") {
		t.Fatalf("got %v", err)
	}
	if err := c.Drain(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got, err := c.Query(t.Context(), "*IDN?"); got != "1" {
		t.Fatalf("%q, %v", got, err)
	}
	_, err = c.Query(t.Context(), "*IDN?")
	if !errors.Is(err, ErrTimeout) || strings.Contains(err.Error(), "someone else") {
		t.Fatalf("got %v", err)
	}
}

func TestTCPHangsUpLater(t *testing.T) {
	n := 0
	c := dial(t, listen(t, func(_ string, c net.Conn) {
		if n++; n > 1 {
			_ = c.Close()
			return
		}
		_, _ = io.WriteString(c, "1\n")
	}))
	if got, err := c.Query(t.Context(), "A?"); got != "1" {
		t.Fatalf("%q, %v", got, err)
	}
	_, err := c.Query(t.Context(), "A?")
	if !errors.Is(err, ErrGone) || strings.Contains(err.Error(), "someone else") {
		t.Fatalf("got %v", err)
	}
}
