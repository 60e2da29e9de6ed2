//go:build unix

package wire

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// TestAnswers goes through everything that a far end can do with one query, and
// checks that after Drain the next query gets its own answer again.
func TestAnswers(t *testing.T) {
	bytewise := func(_ string, w io.Writer) {
		for _, b := range []byte("+5.012E+00\r\n") {
			_, _ = w.Write([]byte{b})
			time.Sleep(time.Millisecond)
		}
	}
	for _, c := range []struct {
		name   string
		script func(string, io.Writer)
		want   string
		err    error
		says   string
	}{
		{"whole", write("+5.012E+00\n"), "+5.012E+00", nil, ""},
		{"carriage return before the line feed", write("+5.012E+00\r\n"), "+5.012E+00", nil, ""},
		{"line feed before the carriage return", write("+5.012E+00\n\r"), "+5.012E+00", nil, ""},
		{"split into single bytes", bytewise, "+5.012E+00", nil, ""},
		{"empty line", write("\n"), "", nil, ""},
		{"missing", write(""), "", ErrTimeout, "timed out"},
		{"truncated", write("+5.0"), "", ErrGarbled, `"+5.0" came without an end`},
		{"garbled", write("+5.0\xff2E+00\n"), "", ErrGarbled, `\xff`},
		{"parity error, read as zero", write("+5.\x0012\n"), "", ErrGarbled, `\x00`},
		{"over-long", write(strings.Repeat("9", 3000) + "\n"), "", ErrGarbled, "more than 1024 bytes"},
		{"echoed at once", write("READ?\r\n+5.012E+00\r\n"), "", ErrInDoubt, `"READ?" and, behind it, "+5.012E+00"`},
		{"echoed, the answer still to come", write("READ?\r\n"), "", ErrGarbled, "switch its echo off"},
		{"two answers", write("+1.0\n+5.012E+00\n"), "", ErrInDoubt, "behind it"},
		{"longest line", write(strings.Repeat("9", 1024) + "\r\n"), strings.Repeat("9", 1024), nil, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := plug(t, func(request string, w io.Writer) {
				if request == "*IDN?" {
					_, _ = io.WriteString(w, "Simulated,Far end,1,1\n")
					return
				}
				c.script(request, w)
			})
			conn := openTest(t, f.device, quick())
			got, err := conn.Query(bg, "READ?")
			if got != c.want || !errors.Is(err, c.err) || (err != nil && !strings.Contains(err.Error(), c.says)) {
				t.Fatalf("got %q, %v; want %q, %v saying %q", got, err, c.want, c.err, c.says)
			}
			if err != nil {
				if _, err := conn.Query(bg, "READ?"); !errors.Is(err, ErrInDoubt) {
					t.Fatalf("after %v the next query was not refused: %v", c.err, err)
				}
				if err := conn.Drain(bg); err != nil {
					t.Fatal(err)
				}
			}
			if id, err := conn.Query(bg, "*IDN?"); id != "Simulated,Far end,1,1" {
				t.Fatalf("after that: %q, %v", id, err)
			}
		})
	}
}

// TestLateAnswer: the answer to the first query comes after its time-out. It
// must never be handed out as the answer to the second.
func TestLateAnswer(t *testing.T) {
	release := make(chan struct{})
	n := 0
	f := plug(t, func(_ string, w io.Writer) {
		n++
		if n == 1 {
			<-release
		}
		_, _ = fmt.Fprintf(w, "answer %d\n", n)
	})
	conn := openTest(t, f.device, quick())
	if _, err := conn.Query(bg, "FIRST?"); !errors.Is(err, ErrTimeout) {
		t.Fatalf("want a time-out, got %v", err)
	}
	close(release)
	waitFor(t, "the late answer", func() bool { n, _ := waiting(f.slave); return n == len("answer 1\n") })
	for range 3 {
		if got, err := conn.Query(bg, "SECOND?"); !errors.Is(err, ErrInDoubt) {
			t.Fatalf("in doubt a query was answered: %q, %v", got, err)
		}
	}
	if err := conn.Drain(bg); err != nil {
		t.Fatal(err)
	}
	if got, err := conn.Query(bg, "SECOND?"); got != "answer 2" {
		t.Fatalf("got %q, %v", got, err)
	}
	if got := f.requests(); !slices.Equal(got, []string{"FIRST?", "SECOND?"}) {
		t.Fatalf("the far end was sent %q: a query in doubt must not be sent", got)
	}
}

func TestUnaskedLine(t *testing.T) {
	f := plug(t, write("+1.0\n"))
	conn := openTest(t, f.device, quick())
	f.say(t, "\r\n")
	if got, err := conn.Query(bg, "READ?"); got != "+1.0" {
		t.Fatalf("a lone line end is no doubt: %q, %v", got, err)
	}
	f.say(t, "+9.9\n")
	_, err := conn.Query(bg, "READ?")
	if !errors.Is(err, ErrInDoubt) || !strings.Contains(err.Error(), `"+9.9\n"`) && !strings.Contains(err.Error(), `"+9.9" came unasked`) {
		t.Fatalf("got %v", err)
	}
	if n := len(f.requests()); n != 1 {
		t.Fatalf("%d requests were sent, want 1", n)
	}
	if err := conn.Send(bg, "OUTP OFF"); err != nil {
		t.Fatalf("Send must work in doubt: %v", err)
	}
}

// talker says something whenever it is looked at, until it has nothing left.
type talker struct {
	scriptedPort
	left int
}

func (p *talker) read(b []byte, d time.Duration) (int, error) {
	if p.left == 0 {
		return p.scriptedPort.read(b, d)
	}
	p.left--
	time.Sleep(time.Millisecond)
	return copy(b, "blah\n"), nil
}

func TestDrainOfEndlessTalk(t *testing.T) {
	p := &talker{left: 10000}
	conn := newConn("here", p, DefaultLine().With(quick()))
	defer conn.Close()
	if err := conn.Drain(bg); !errors.Is(err, ErrGarbled) || !strings.Contains(err.Error(), "talks without end") {
		t.Fatalf("got %v", err)
	}
	p.left = 3
	if err := conn.Drain(bg); err != nil {
		t.Fatal(err)
	}
}

func TestTerminators(t *testing.T) {
	for _, c := range []struct {
		terminator, sent, answer string
		last                     byte
	}{
		{"LF", "A?", "1\n", '\n'},
		{"LF", "A?", "1\r\n", '\n'},
		{"CRLF", "A?\r", "1\r\n", '\n'},
		{"CRLF", "A?\r", "1\n", '\n'},
		{"CR", "A?\r", "1\r", '\r'},
		{"CR", "A?\r", "1\r\n", '\r'},
	} {
		l := quick()
		l.Terminator = c.terminator
		f := plugEnding(t, c.last, write(c.answer))
		conn := openTest(t, f.device, l)
		for range 3 {
			if got, err := conn.Query(bg, "A?"); got != "1" {
				t.Errorf("%s, %q: got %q, %v", c.terminator, c.answer, got, err)
			}
		}
		if got := f.requests(); got[0] != c.sent {
			t.Errorf("%s: the far end got %q", c.terminator, got[0])
		}
	}
}

func TestContext(t *testing.T) {
	f := plug(t, nil)
	l := quick()
	l.AnswerTimeout = time.Minute
	conn := openTest(t, f.device, l)

	ctx, cancel := context.WithTimeout(bg, 30*time.Millisecond)
	defer cancel()
	if _, err := conn.Query(ctx, "A?"); !errors.Is(err, ErrTimeout) {
		t.Fatalf("a passed deadline is a time-out, got %v", err)
	}
	if err := conn.Drain(bg); err != nil {
		t.Fatal(err)
	}
	ctx, cancel = context.WithCancel(bg)
	time.AfterFunc(20*time.Millisecond, cancel)
	if _, err := conn.Query(ctx, "A?"); !errors.Is(err, context.Canceled) {
		t.Fatalf("got %v", err)
	}
	if _, err := conn.Query(bg, "A?"); !errors.Is(err, ErrInDoubt) {
		t.Fatalf("an answer may still come, but got %v", err)
	}
	before := len(f.requests())
	if err := conn.Send(ctx, "OUTP ON"); !errors.Is(err, context.Canceled) {
		t.Fatalf("got %v", err)
	}
	if len(f.requests()) != before {
		t.Fatal("something was sent under a cancelled context")
	}
}

// halfPort gives half a line, and then nothing until the context has ended.
type halfPort struct {
	ctx  context.Context
	left string
}

func (p *halfPort) read(b []byte, _ time.Duration) (int, error) {
	if p.left == "" {
		<-p.ctx.Done()
	}
	n := copy(b, p.left)
	p.left = p.left[n:]
	return n, nil
}

func (*halfPort) glance([]byte) (int, error) { return 0, nil }
func (*halfPort) write([]byte) error         { return nil }
func (*halfPort) close() error               { return nil }

// TestHalfALineUnderADeadline: a line that was begun is garbled, whoever's
// deadline ends the wait, the context's or the line's.
func TestHalfALineUnderADeadline(t *testing.T) {
	ctx, cancel := context.WithTimeout(bg, 15*time.Millisecond)
	defer cancel()
	conn := newConn("here", &halfPort{ctx, "+5.0"}, DefaultLine())
	defer conn.Close()
	if _, err := conn.Query(ctx, "READ?"); !errors.Is(err, ErrGarbled) {
		t.Fatalf("got %v", err)
	}
}

// TestCloseEndsQuery: Close interrupts a query that waits, within the read
// time-out, and later calls are refused.
func TestCloseEndsQuery(t *testing.T) {
	f := plug(t, nil)
	l := quick()
	l.AnswerTimeout = time.Minute
	conn := openTest(t, f.device, l)
	got := make(chan error)
	go func() { _, err := conn.Query(bg, "A?"); got <- err }()
	waitFor(t, "the request", func() bool { return len(f.requests()) == 1 })
	if err := conn.Close(); err != nil {
		t.Fatal(err)
	}
	if err := <-got; !errors.Is(err, ErrClosed) {
		t.Fatalf("got %v", err)
	}
	if err := conn.Close(); err != nil {
		t.Fatalf("the second Close: %v", err)
	}
	if conn.Alive() {
		t.Fatal("it says it is alive")
	}
	if err := conn.Send(bg, "OUTP OFF"); !errors.Is(err, ErrClosed) {
		t.Fatalf("got %v", err)
	}
}

// TestManyCallers: every caller gets the answer to its own query.
func TestManyCallers(t *testing.T) {
	f := plug(t, func(request string, w io.Writer) { _, _ = io.WriteString(w, "answer to "+request+"\n") })
	conn := openTest(t, f.device, Line{AnswerTimeout: 5 * time.Second})
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			for n := range 50 {
				q := fmt.Sprintf("Q%d.%d?", i, n)
				if got, err := conn.Query(bg, q); got != "answer to "+q {
					t.Errorf("%s: %q, %v", q, got, err)
				}
			}
		})
	}
	wg.Wait()
}

func TestOnlyPrintableRequests(t *testing.T) {
	f := plug(t, nil)
	conn := openTest(t, f.device, quick())
	for _, bad := range []string{"A\nOUTP ON", "A\r", "µ", "\x00"} {
		if err := conn.Send(bg, bad); err == nil {
			t.Errorf("%q was sent", bad)
		}
	}
	if err := conn.Send(bg, "END"); err != nil {
		t.Fatal(err)
	}
	waitFor(t, "the last request", func() bool { return len(f.requests()) == 1 })
}
