//go:build unix

package wire

import (
	"bufio"
	"context"
	"io"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"go.uber.org/goleak"
)

// TestMain lets the test program also be the far end of a benchmark, in a
// process of its own, so that its CPU time is not counted as ours.
func TestMain(m *testing.M) {
	if os.Getenv("WIRE_FAR_END") != "" {
		farEnd(os.NewFile(3, "pty"))
		return
	}
	goleak.VerifyTestMain(m)
}

// farEnd answers every line on a pseudo-terminal's master side. With a baud
// rate in the environment it is as slow as that wire: ten bits a character,
// both ways.
func farEnd(master *os.File) {
	baud, _ := strconv.Atoi(os.Getenv("WIRE_FAR_END"))
	var source io.Reader = master
	if baud > 1 {
		source = eager(master.Fd())
	}
	in := bufio.NewReader(source)
	for {
		request, err := in.ReadString('\n')
		if err != nil {
			return
		}
		answer := benchAnswer + "\n"
		switch {
		case strings.HasPrefix(request, "*IDN?"):
			answer = "Simulated,Far end,1,1\n"
		case strings.HasPrefix(request, "SYST:ERR?"):
			answer = "0,\"No error\"\n"
		case !strings.HasSuffix(request, "?\n"):
			continue
		}
		if baud > 1 {
			waitUntil(time.Now().Add(wireTime(len(request)+len(answer), baud)))
		}
		if _, err := master.WriteString(answer); err != nil {
			return
		}
	}
}

// eager reads a descriptor without ever sleeping: a line has no scheduler that
// would have to wake it up.
type eager uintptr

func (fd eager) Read(b []byte) (int, error) {
	if err := syscall.SetNonblock(int(fd), true); err != nil {
		return 0, err
	}
	defer func() { _ = syscall.SetNonblock(int(fd), false) }() // for the answer
	for {
		n, err := syscall.Read(int(fd), b)
		if err != syscall.EAGAIN && err != syscall.EINTR {
			return max(0, n), err
		}
	}
}

// waitUntil sleeps most of the time and spins the rest: a sleep alone is late by
// more than a character's time.
func waitUntil(due time.Time) {
	if left := time.Until(due); left > 3*time.Millisecond {
		time.Sleep(left - 2*time.Millisecond)
	}
	for time.Now().Before(due) {
	}
}

const (
	benchRequest = "READ?"
	benchAnswer  = "+5.0120E+00"
)

// wireTime is how long n characters of ten bits are under way.
func wireTime(n, baud int) time.Duration {
	return time.Duration(n) * 10 * time.Second / time.Duration(baud)
}

// startFarEnd runs the far end in its own process and returns the device.
func startFarEnd(tb testing.TB, baud int) string {
	tb.Helper()
	master, slave := openPTY(tb)
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "WIRE_FAR_END="+strconv.Itoa(max(1, baud)))
	cmd.ExtraFiles = []*os.File{master}
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		tb.Fatal(err)
	}
	_ = master.Close()
	tb.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		_ = slave.Close()
	})
	return slave.Name()
}

// openPTY makes a pseudo-terminal whose master can be closed while it is read:
// the one that the library makes is in blocking mode, and Close would wait.
func openPTY(tb testing.TB) (master, slave *os.File) {
	tb.Helper()
	m, slave, err := pty.Open()
	if err != nil {
		tb.Skipf("no pseudo-terminal here: %v", err)
	}
	fd, err := syscall.Dup(int(m.Fd()))
	if err == nil {
		err = syscall.SetNonblock(fd, true)
	}
	if err != nil {
		tb.Fatal(err)
	}
	_ = m.Close()
	raw(tb, slave)
	return os.NewFile(uintptr(fd), "master of "+slave.Name()), slave
}

// raw turns the terminal's own echo and line editing off, as a serial line has
// none, by opening it once through the library under test.
func raw(tb testing.TB, slave *os.File) {
	tb.Helper()
	p, err := openSerial(slave.Name(), DefaultLine())
	if err != nil {
		tb.Fatal(err)
	}
	if err := p.close(); err != nil {
		tb.Fatal(err)
	}
}

// openTest opens a device with a short patience.
func openTest(tb testing.TB, device string, over Line) *Conn {
	tb.Helper()
	c, err := Open(context.Background(), Address{Kind: KindSerial, Path: device}, over)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { _ = c.Close() })
	return c
}
