package wire

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"
)

// fakeTMC behaves as the kernel's driver documents it, with an instrument
// behind it: a read asks under the tag of its own, an answer that comes after
// the read has timed out stays under the old tag, and from then on every read
// is 0 and no error, until the device is cleared.
type fakeTMC struct {
	script   func(request string) (answer string, after time.Duration)
	old      bool // the driver knows neither attribute nor time-out
	cutAt    int  // the instrument sends no more than this in one transfer
	writeErr error
	clearErr error

	mu        sync.Mutex
	wait      time.Duration
	answer    []byte
	due       time.Time
	outOfStep bool
	gone      chan struct{}
	end       bool
	reading   bool
	closed    bool
	log       []string // requests, "clear" among them
}

func newFakeTMC(script func(string) (string, time.Duration)) *fakeTMC {
	return &fakeTMC{script: script, wait: 5 * time.Second, gone: make(chan struct{})}
}

func (f *fakeTMC) unplug() { close(f.gone) }

func (f *fakeTMC) there() error {
	select {
	case <-f.gone:
		return syscall.ENODEV
	default:
		return nil
	}
}

func (f *fakeTMC) write(p []byte) error {
	if err := f.there(); err != nil {
		return err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.writeErr != nil {
		return f.writeErr
	}
	request := strings.TrimRight(string(p), "\r\n")
	f.log = append(f.log, request)
	answer, after := f.script(request)
	f.answer, f.due = append(f.answer, answer...), time.Now().Add(after)
	return nil
}

func (f *fakeTMC) read(p []byte) (int, error) {
	f.mu.Lock()
	f.reading = true
	wait, late := f.wait, time.Until(f.due)
	mute, lost := len(f.answer) == 0, f.outOfStep
	f.mu.Unlock()
	defer func() { f.mu.Lock(); f.reading = false; f.mu.Unlock() }()
	if lost {
		return 0, nil
	}
	if mute || late > wait {
		select {
		case <-f.gone:
			return 0, syscall.ENODEV
		case <-time.After(wait):
		}
		f.mu.Lock()
		f.outOfStep = true
		f.mu.Unlock()
		return 0, syscall.ETIMEDOUT
	}
	select {
	case <-f.gone:
		return 0, syscall.ENODEV
	case <-time.After(late):
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	most := len(p)
	if f.cutAt > 0 {
		most = min(most, f.cutAt)
	}
	n := copy(p[:most], f.answer)
	f.answer = f.answer[n:]
	f.end = len(f.answer) == 0
	return n, nil
}

func (f *fakeTMC) endOfMessage() (bool, bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.end, !f.old
}

func (f *fakeTMC) setTimeout(d time.Duration) error {
	if f.old {
		return syscall.ENOTTY
	}
	if d < tmcLeast {
		return syscall.EINVAL
	}
	f.wait = d
	return nil
}

func (f *fakeTMC) clear() error {
	if err := f.there(); err != nil {
		return err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.log = append(f.log, "clear")
	if f.clearErr != nil {
		return f.clearErr
	}
	f.outOfStep, f.answer = false, nil
	return nil
}

func (f *fakeTMC) close() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.reading {
		panic("closed under a read")
	}
	f.closed = true
	return nil
}

func (f *fakeTMC) isClosed() bool { f.mu.Lock(); defer f.mu.Unlock(); return f.closed }

// plugTMC puts a Conn on a fake; the answer time-out is 200 ms.
func plugTMC(f *fakeTMC) *Conn {
	l := DefaultLine().With(Line{AnswerTimeout: 200 * time.Millisecond, Limit: 5000})
	return newConn("usbtmc:fake", newTMC(f, l), l)
}

func at(answer string) func(string) (string, time.Duration) {
	return func(string) (string, time.Duration) { return answer, 3 * time.Millisecond }
}

// TestTMCAnswers: a message is a line, whatever it ends with and in however
// many transfers it comes.
func TestTMCAnswers(t *testing.T) {
	long := strings.Repeat("9", 3000)
	for _, c := range []struct {
		name, answer string
		cutAt        int
		old          bool
		want         string
		err          error
		says         string
	}{
		{"with a line feed", "+5.0\n", 0, false, "+5.0", nil, ""},
		{"with both", "+5.0\r\n", 0, false, "+5.0", nil, ""},
		{"with nothing", "+5.0", 0, false, "+5.0", nil, ""},
		{"in parts", long + "\n", 0, false, long, nil, ""},
		{"in single bytes", "+5.0\n", 1, false, "+5.0", nil, ""},
		{"the line feed alone in the last part", strings.Repeat("9", 1024) + "\n", 0, false, strings.Repeat("9", 1024), nil, ""},
		{"a whole transfer and no more", strings.Repeat("9", 1024), 0, false, strings.Repeat("9", 1024), nil, ""},
		{"old driver", "+5.0\n", 0, true, "+5.0", nil, ""},
		{"old driver, in parts", long + "\n", 0, true, long, nil, ""},
		{"two lines in one message", "1\n2\n", 0, false, "", ErrInDoubt, "behind it"},
		{"two lines in two transfers", "1\n2\n", 2, false, "", ErrInDoubt, "behind it"},
		{"over-long", strings.Repeat("9", 6000), 0, false, "", ErrGarbled, "more than 5000 bytes"},
		{"no text", "+5.\x00\n", 0, false, "", ErrGarbled, `\x00`},
		{"mute", "", 0, false, "", ErrTimeout, "timed out"},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				f := newFakeTMC(at(c.answer))
				f.cutAt, f.old = c.cutAt, c.old
				conn := plugTMC(f)
				got, err := conn.Query(bg, "READ?")
				if got != c.want || !errors.Is(err, c.err) || (err != nil && !strings.Contains(err.Error(), c.says)) {
					t.Fatalf("got %q, %v", got, err)
				}
				if err != nil {
					if err := conn.Drain(bg); err != nil {
						t.Fatal(err)
					}
				}
				f.script, f.cutAt = at("Simulated,Meter,1,1"), 0
				for range 3 {
					if got, err := conn.Query(bg, "*IDN?"); got != "Simulated,Meter,1,1" {
						t.Fatalf("after that: %q, %v", got, err)
					}
				}
				if err := conn.Close(); err != nil || !f.isClosed() {
					t.Fatalf("close: %v, closed %v", err, f.isClosed())
				}
			})
		})
	}
}

// TestTMCLateAnswer: the answer comes after the kernel has given up. It is never
// handed out, the tag is put right by a clear, and nothing takes 5 s.
func TestTMCLateAnswer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFakeTMC(func(request string) (string, time.Duration) {
			if request == "SLOW?" {
				return "late\n", 300 * time.Millisecond
			}
			return "answer to " + request + "\n", 0
		})
		conn := plugTMC(f)
		defer conn.Close()
		start := time.Now()
		if _, err := conn.Query(bg, "SLOW?"); !errors.Is(err, ErrTimeout) {
			t.Fatal(err)
		}
		if took := time.Since(start); took > 300*time.Millisecond {
			t.Fatalf("the time-out took %v", took)
		}
		if _, err := conn.Query(bg, "A?"); !errors.Is(err, ErrInDoubt) {
			t.Fatal(err)
		}
		if err := conn.Drain(bg); err != nil {
			t.Fatal(err)
		}
		if got, err := conn.Query(bg, "A?"); got != "answer to A?" {
			t.Fatalf("%q, %v", got, err)
		}
		if want := []string{"SLOW?", "clear", "A?"}; !slices.Equal(f.log, want) {
			t.Fatalf("the instrument saw %q, want %q", f.log, want)
		}
	})
}

// TestTMCOutOfStep: another program left the instrument so.
func TestTMCOutOfStep(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFakeTMC(at("1\n"))
		f.outOfStep = true
		conn := plugTMC(f)
		defer conn.Close()
		if _, err := conn.Query(bg, "A?"); !errors.Is(err, ErrGarbled) || !strings.Contains(err.Error(), "out of step") {
			t.Fatal(err)
		}
		if err := conn.Drain(bg); err != nil {
			t.Fatal(err)
		}
		if got, err := conn.Query(bg, "A?"); got != "1" {
			t.Fatalf("%q, %v", got, err)
		}
	})
}

// TestTMCGone: the loss is noticed while waiting, and while nothing is asked.
func TestTMCGone(t *testing.T) {
	for _, waiting := range []bool{true, false} {
		synctest.Test(t, func(t *testing.T) {
			f := newFakeTMC(at(""))
			conn := plugTMC(f)
			if waiting {
				time.AfterFunc(20*time.Millisecond, f.unplug)
			} else {
				f.unplug()
			}
			start := time.Now()
			_, err := conn.Query(bg, "A?")
			if !errors.Is(err, ErrGone) || !errors.Is(err, syscall.ENODEV) {
				t.Fatal(err)
			}
			if conn.Alive() || !f.isClosed() || time.Since(start) > 50*time.Millisecond {
				t.Fatalf("alive %v, closed %v, after %v", conn.Alive(), f.isClosed(), time.Since(start))
			}
			if err := conn.Drain(bg); !errors.Is(err, ErrGone) {
				t.Fatal(err)
			}
		})
	}
}

// TestTMCCancel: whoever gives up need not wait for the kernel, and the device
// is closed by the read that was given up, never under it.
func TestTMCCancel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFakeTMC(at(""))
		conn := plugTMC(f)
		ctx, cancel := context.WithCancel(bg)
		time.AfterFunc(10*time.Millisecond, cancel)
		start := time.Now()
		if _, err := conn.Query(ctx, "A?"); !errors.Is(err, context.Canceled) {
			t.Fatal(err)
		}
		if took := time.Since(start); took > 60*time.Millisecond {
			t.Fatalf("giving up took %v", took)
		}
		if err := conn.Close(); err != nil {
			t.Fatal(err)
		}
		if f.isClosed() {
			t.Fatal("closed under the read")
		}
		time.Sleep(200 * time.Millisecond)
		synctest.Wait()
		if !f.isClosed() {
			t.Fatal("not closed when the read had ended")
		}
	})
}

// TestTMCSend: what nobody answers is not waited for, and the next answer is
// that of the next query.
func TestTMCSend(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFakeTMC(func(request string) (string, time.Duration) {
			if strings.HasSuffix(request, "?") {
				return request + " 1\n", 0
			}
			return "", 0
		})
		conn := plugTMC(f)
		defer conn.Close()
		for i := range 5 {
			q := fmt.Sprintf("Q%d?", i)
			if err := conn.Send(bg, "OUTP OFF"); err != nil {
				t.Fatal(err)
			}
			if got, err := conn.Query(bg, q); got != q+" 1" {
				t.Fatalf("%q, %v", got, err)
			}
		}
		start := time.Now()
		if err := conn.Drain(bg); err != nil || time.Since(start) > 100*time.Millisecond {
			t.Fatalf("%v after %v", err, time.Since(start))
		}
	})
}

// TestTMCFaults: an instrument that does not take a message is slow, not gone.
func TestTMCFaults(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFakeTMC(at("1\n"))
		f.writeErr = syscall.ETIMEDOUT
		conn := plugTMC(f)
		defer conn.Close()
		if _, err := conn.Query(bg, "A?"); !errors.Is(err, ErrTimeout) || !conn.Alive() {
			t.Fatal(err)
		}
		if _, err := conn.Query(bg, "A?"); !errors.Is(err, ErrInDoubt) {
			t.Fatal(err)
		}
		f.writeErr, f.clearErr = nil, syscall.EPIPE
		if err := conn.Drain(bg); !errors.Is(err, ErrGarbled) || !strings.Contains(err.Error(), "off and on") {
			t.Fatal(err)
		}
		if _, err := conn.Query(bg, "A?"); !errors.Is(err, ErrInDoubt) {
			t.Fatal(err)
		}
		f.clearErr = nil
		if err := conn.Drain(bg); err != nil {
			t.Fatal(err)
		}
		if got, err := conn.Query(bg, "A?"); got != "1" {
			t.Fatalf("%q, %v", got, err)
		}
	})
}
