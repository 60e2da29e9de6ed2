//go:build unix

package comparison

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/creack/pty"
	"go.bug.st/serial"
	"golang.org/x/sys/unix"
)

// farEndEnv, set to a baud rate and a number of pseudo-terminals, makes the test
// program their far end; 1 baud is as fast as it can.
const farEndEnv = "COMPARISON_FAR_END"

// listens is what the far end says on its standard output once it does.
const listens = "listens\n"

// What is asked and answered all the time.
const (
	request = "READ?"
	answer  = "+5.01200E+00"
)

// farEnd answers every line on the pseudo-terminals that this process was
// given, as a multimeter would that has its reading ready. With a baud rate
// there is one, and it is as slow as that wire.
func farEnd(given string) {
	var baud, n int
	if _, err := fmt.Sscanf(given, "%d %d", &baud, &n); err != nil {
		panic(err)
	}
	const first = 3 // of the descriptors that were handed over
	if baud > 1 {
		pacedEnd(first, baud)
		return
	}
	fds := make([]int, n)
	for i := range fds {
		fds[i] = first + i
	}
	answerAll(fds)
}

// answerAll serves all of them by one thread: sixteen processes took as much of
// the computer as the house that was to be measured.
func answerAll(fds []int) {
	ready := make([]unix.PollFd, len(fds))
	begun := make([][]byte, len(fds)) // of a line
	for i, fd := range fds {
		ready[i] = unix.PollFd{Fd: int32(fd), Events: unix.POLLIN}
	}
	buf := make([]byte, 256)
	fmt.Print(listens)
	for {
		if _, err := unix.Poll(ready, -1); err != nil && !errors.Is(err, unix.EINTR) {
			return
		}
		for i, r := range ready {
			if r.Revents == 0 {
				continue
			}
			n, err := unix.Read(fds[i], buf)
			if err != nil { // nobody has it open yet, or any more
				time.Sleep(time.Millisecond)
				continue
			}
			begun[i] = append(begun[i], buf[:n]...)
			for {
				line, rest, whole := bytes.Cut(begun[i], []byte("\n"))
				if !whole {
					break
				}
				begun[i] = append(begun[i][:0], rest...)
				if text := reply(string(line)); text != "" {
					_, _ = unix.Write(fds[i], []byte(text)) // whoever asked times out
				}
			}
		}
	}
}

// pacedEnd answers on a pseudo-terminal as slowly as a wire of so many baud.
func pacedEnd(fd, baud int) {
	lag := requestLag(baud)
	fmt.Print(listens)
	_ = answerPaced(fd, baud, lag, nil) // nobody has it open any more
}

// answerPaced sends its answer character by character, each when it would have
// come over a wire of ten bits a character, the first when the request would
// have been through. It looks all the time instead of waiting to be woken, for
// being woken takes longer than a character, and gives way each time it looks:
// who is woken on its processor would wait for 4 ms else. What a pseudo-terminal
// needs to show it the request, the lag, is no part of a wire and is taken off;
// on the way back it stays, for a serial port's driver hands bytes over as late.
// It calls seen, if there is one, with the instant each request lay there, and
// ends when nobody has the terminal open.
func answerPaced(fd, baud int, lag time.Duration, seen func(time.Time)) error {
	for in := bufio.NewReader(looking{uintptr(fd)}); ; {
		line, err := in.ReadString('\n')
		if err != nil {
			return err
		}
		there := time.Now()
		if seen != nil {
			seen(there)
		}
		text, asked := reply(strings.TrimSuffix(line, "\n")), there.Add(-lag)
		for i := range text {
			waitUntil(asked.Add(wireTime(len(line)+i+1, baud)))
			if _, err := unix.Write(fd, []byte(text[i:i+1])); err != nil {
				return err
			}
		}
	}
}

// requestLag is how long after it was written a request lies ready at the far
// end of a pseudo-terminal of this computer, in the median of the bare exchange
// at this pace. Without the pauses of a wire it would be a quarter of that:
// nothing on the way would have gone to sleep.
func requestLag(baud int) time.Duration {
	const exchanges = 51
	master, device, held, err := terminal()
	if err != nil {
		panic(err)
	}
	far, err := unwatched(master)
	if err != nil {
		panic(err)
	}
	defer unix.Close(far)
	near, err := serial.Open(device, &serial.Mode{BaudRate: 115200})
	if err != nil {
		panic(err)
	}
	written := make(chan time.Time, exchanges)
	go func() {
		query := bareQuery(near)
		for range exchanges {
			written <- time.Now()
			if err := query(); err != nil {
				panic(err)
			}
		}
		_, _ = near.Close(), unix.Close(held) // which ends the answering
	}()
	var lags []time.Duration
	_ = answerPaced(far, baud, 0, func(there time.Time) { lags = append(lags, there.Sub(<-written)) })
	return quantile(lags, 0.5)
}

// terminal opens a pseudo-terminal without echo or line editing. Its device is
// held open, as a plugged-in adapter holds it.
func terminal() (master *os.File, device string, held int, err error) {
	master, slave, err := pty.Open()
	if err != nil {
		return nil, "", 0, err
	}
	device = slave.Name()
	if held, err = unwatched(slave); err != nil {
		return nil, "", 0, err
	}
	// Opening it once turns the terminal's echo and line editing off.
	port, err := serial.Open(device, &serial.Mode{BaudRate: 115200})
	if err == nil {
		err = port.Close()
	}
	return master, device, held, err
}

// unwatched closes a file and returns a descriptor of it that Go's runtime does
// not watch. A terminal that was opened as a file wakes a thread of the runtime
// with every character that passes: no serial port of the house does.
func unwatched(f *os.File) (fd int, err error) {
	if fd, err = unix.Dup(int(f.Fd())); err == nil {
		err = f.Close()
	}
	return fd, err
}

func reply(line string) string {
	switch {
	case line == request:
		return answer + "\n"
	case line == "*IDN?":
		return "steadyrail,FAR-END,1,1.0\n"
	case line == "SYST:ERR?":
		return "0,\"No error\"\n"
	}
	return "" // set-up phrases are not answered
}

// waitUntil sleeps most of the time and spins the rest: a sleep alone is late
// by more than a character's time.
func waitUntil(due time.Time) {
	if left := time.Until(due); left > 3*time.Millisecond {
		pauseFor(left - 2*time.Millisecond)
	}
	for time.Now().Before(due) {
		giveWay()
	}
}

// wireTime is how long n characters of ten bits are under way.
func wireTime(n, baud int) time.Duration {
	return time.Duration(n) * 10 * time.Second / time.Duration(baud)
}
