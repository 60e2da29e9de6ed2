//go:build unix

package comparison

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strconv"
	"syscall"
	"testing"
	"time"

	"go.bug.st/serial"

	"steadyrail/capture"
	"steadyrail/capture/bus"
	"steadyrail/capture/poll"
	"steadyrail/drivers"
)

// BenchmarkPollThroughTheHouse measures what a poll costs in processor time,
// user and system, of this process: through wire, scpi, poll and the bus with
// the shipped multimeter model, and, as the baseline, in the least loop that
// one can write with go.bug.st/serial for the same exchange with the same far
// end. The far end is a process of its own and not in it. Target: a ratio of
// at most 1.5.
func BenchmarkPollThroughTheHouse(b *testing.B) {
	b.Run("bare", func(b *testing.B) { costOf(b, bareLoop(b, startFarEnd(b, 0))) })
	b.Run("house", func(b *testing.B) { costOf(b, houseLoop(b, startFarEnd(b, 0), 115200)) })
	// In turns, so that whatever else the computer does falls on both alike.
	b.Run("ratio", func(b *testing.B) {
		sides := [2]polls{bareLoop(b, startFarEnd(b, 0)), houseLoop(b, startFarEnd(b, 0), 115200)}
		const block = 1000 // handing over costs the house what the bare loop has no need of
		var spent [2]time.Duration
		for b.Loop() {
			for i, poll := range sides {
				from := processorTime(b)
				poll(block, nil)
				spent[i] += processorTime(b) - from
			}
		}
		for i, unit := range [...]string{"bare-cpu-ns", "house-cpu-ns"} {
			b.ReportMetric(float64(spent[i])/float64(b.N*block), unit)
		}
		b.ReportMetric(float64(spent[1])/float64(spent[0]), "x-bare")
	})
}

// polls lets n polls pass and calls lap after each of them, unless it is nil.
type polls func(n int, lap func())

// BenchmarkPollPaced reports which part of the line's own limit is reached by
// polling as fast as can be, when the far end is as slow as a real line: ten
// bits a character, both ways. Target: 95 % at 115200 baud, 99 % at 9600. The
// baseline bare says what this computer allows at all; the share of the median
// exchange leaves out what else it had to do meanwhile.
func BenchmarkPollPaced(b *testing.B) {
	for _, baud := range []int{9600, 115200} {
		limit := wireTime(len(request+answer+"\n\n"), baud)
		for _, side := range []struct {
			name string
			loop func(*testing.B, string) polls
		}{
			{"bare", bareLoop},
			{"house", func(b *testing.B, device string) polls { return houseLoop(b, device, baud) }},
		} {
			b.Run(strconv.Itoa(baud)+"/"+side.name, func(b *testing.B) {
				median := costOf(b, side.loop(b, startFarEnd(b, baud)))
				b.ReportMetric(100*float64(limit)*float64(b.N)/float64(b.Elapsed()), "%-of-wire")
				b.ReportMetric(100*float64(limit)/float64(median), "%-of-wire-median")
			})
		}
	}
}

// costOf runs b.N polls in one go and reports their processor time. It returns
// how long the median one took.
func costOf(b *testing.B, run polls) time.Duration {
	b.Helper()
	run(10, nil) // whatever happens only once
	laps := make([]time.Duration, 0, b.N)
	b.ReportAllocs()
	from := processorTime(b)
	b.ResetTimer()
	last := time.Now()
	run(b.N, func() {
		now := time.Now()
		laps = append(laps, now.Sub(last))
		last = now
	})
	b.StopTimer()
	b.ReportMetric(float64(processorTime(b)-from)/float64(b.N), "cpu-ns/op")
	return quantile(laps, 0.5)
}

func processorTime(tb testing.TB) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		tb.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// looking reads a terminal without ever waiting in the kernel.
type looking struct{ fd uintptr }

func (l looking) Read(b []byte) (int, error) {
	if err := syscall.SetNonblock(int(l.fd), true); err != nil {
		return 0, err
	}
	for {
		n, err := syscall.Read(int(l.fd), b)
		switch {
		case err == syscall.EAGAIN || err == syscall.EINTR:
			giveWay()
		case err != nil:
			return 0, err
		case n == 0:
			return 0, io.EOF
		default:
			return n, nil
		}
	}
}

// bareLoop is the baseline: write the request, read until the line is there.
func bareLoop(b *testing.B, device string) polls {
	b.Helper()
	port, err := serial.Open(device, &serial.Mode{BaudRate: 115200})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = port.Close() })
	if err := port.SetReadTimeout(time.Second); err != nil {
		b.Fatal(err)
	}
	query := bareQuery(port)
	return func(n int, lap func()) {
		for range n {
			if err := query(); err != nil {
				b.Fatal(err)
			}
			if lap != nil {
				lap()
			}
		}
	}
}

// bareQuery is the least exchange that one can write with the library.
func bareQuery(port serial.Port) func() error {
	var buf [256]byte
	asked := []byte(request + "\n")
	return func() error {
		if _, err := port.Write(asked); err != nil {
			return err
		}
		for n := 0; ; {
			m, err := port.Read(buf[n:])
			if err != nil {
				return err
			}
			if m == 0 {
				return errors.New("timed out")
			}
			n += m
			if end := bytes.IndexByte(buf[:n], '\n'); end >= 0 {
				if string(buf[:end]) != answer {
					return errors.New("wrong answer")
				}
				return nil
			}
		}
	}
}

// houseLoop polls one channel as fast as it answers, through everything between
// the line and the bus. The returned function lets n polls pass; between its
// calls the loop stands.
func houseLoop(b *testing.B, device string, baud int) polls {
	b.Helper()
	models, err := drivers.LoadModels("")
	if err != nil {
		b.Fatal(err)
	}
	in, err := drivers.Open(drivers.Config{
		Name: "dmm", Model: "scpi-multimeter", Link: "serial:" + device + "?baud=" + strconv.Itoa(baud), Every: time.Microsecond,
	}, models)
	if err != nil {
		b.Fatal(err)
	}
	clock := capture.NewWallClock()
	g := &gate{Bus: bus.New(clock), more: make(chan int), done: make(chan error)}
	loop := poll.New("bench", []poll.Instrument{in}, clock, g, poll.Options{
		Classify: drivers.Flags,
		Transfer: func(_ string, characters int) time.Duration { return in.Transfer(characters) },
	})
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- loop.Run(ctx) }()
	b.Cleanup(func() {
		cancel()
		close(g.more)
		if err := <-ended; err != nil {
			b.Error(err)
		}
	})
	return func(n int, lap func()) {
		g.lap = lap // the loop stands until it is asked
		g.more <- n
		if err := <-g.done; err != nil {
			b.Fatal(err)
		}
	}
}

// gate is the bus behind a door: it holds the loop until more polls are wanted
// and says when they have passed.
type gate struct {
	*bus.Bus
	more chan int
	done chan error
	lap  func()
	left int
	open bool
	bad  error
}

func (g *gate) ReadBegun(r capture.Reading, begun capture.Instant) capture.Instant {
	at := g.Bus.ReadBegun(r, begun)
	if r.Value != 5.012 && g.bad == nil {
		g.bad = errors.New("wrong reading: " + r.Text + " " + r.Flags.String())
	}
	if g.left > 0 {
		g.left--
		if g.lap != nil {
			g.lap()
		}
	}
	if g.left == 0 {
		if g.open {
			g.done <- g.bad
		}
		g.left, g.open = <-g.more, true // nought when all is over
	}
	return at
}

// startFarEnd runs the far end of a pseudo-terminal in its own process and
// returns the device.
func startFarEnd(b *testing.B, baud int) string {
	b.Helper()
	return startFarEnds(b, 1, baud)[0]
}

// startFarEnds runs the far ends of n pseudo-terminals in one process of their
// own, waits until they listen and returns the devices.
func startFarEnds(b *testing.B, n, baud int) (devices []string) {
	b.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%d %d", farEndEnv, max(1, baud), n))
	cmd.Stderr = os.Stderr
	said, err := cmd.StdoutPipe()
	if err != nil {
		b.Fatal(err)
	}
	for range n {
		master, device, held, err := terminal()
		if err != nil {
			b.Skipf("no pseudo-terminal here: %v", err)
		}
		b.Cleanup(func() { _ = syscall.Close(held) })
		defer master.Close() // the far end has its own
		cmd.ExtraFiles = append(cmd.ExtraFiles, master)
		devices = append(devices, device)
	}
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait() // it was killed
	})
	if said, err := bufio.NewReader(said).ReadString('\n'); said != listens {
		b.Fatalf("the far end said %q: %v", said, err)
	}
	return devices
}
