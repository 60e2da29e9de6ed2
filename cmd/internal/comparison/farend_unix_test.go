//go:build unix

package comparison

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/creack/pty"
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

// pacedEnd sends its answer character by character, each when it would have
// come over a wire of ten bits a character, the first when the request would
// have been through. It looks all the time instead of waiting to be woken, for
// being woken takes longer than a character, and gives way each time it looks:
// who is woken on its processor would wait for 4 ms else. What a pseudo-terminal needs to show
// it the request is no part of a wire and is taken off; on the way back it stays,
// for a serial port's driver hands bytes over as late.
func pacedEnd(fd, baud int) {
	in, lag := bufio.NewReader(looking{uintptr(fd)}), requestLag(wireTime(1, baud))
	fmt.Print(listens)
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return
		}
		text, asked := reply(strings.TrimSuffix(line, "\n")), time.Now().Add(-lag)
		for i := range text {
			waitUntil(asked.Add(wireTime(len(line)+i+1, baud)))
			if _, err := unix.Write(fd, []byte(text[i:i+1])); err != nil {
				return
			}
		}
	}
}

// requestLag is how long after it was written a request lies ready at the far
// end of a pseudo-terminal of this computer, in the median. Whoever writes has
// slept before for the time of a character, as one who waits for the last of an
// answer: a processor that was idle takes several times as long.
func requestLag(pause time.Duration) time.Duration {
	far, near := terminal()
	defer unix.Close(far)
	defer unix.Close(near)
	in := bufio.NewReader(looking{uintptr(far)})
	lags, written := make([]time.Duration, 51), make(chan time.Time)
	go func() {
		for range lags {
			pauseFor(pause)
			at := time.Now()
			if _, err := unix.Write(near, []byte(request+"\n")); err != nil {
				panic(err)
			}
			written <- at
		}
	}()
	for i := range lags {
		if _, err := in.ReadString('\n'); err != nil {
			panic(err)
		}
		read := time.Now()
		lags[i] = read.Sub(<-written)
	}
	return quantile(lags, 0.5)
}

// terminal opens a pseudo-terminal.
func terminal() (far, near int) {
	f, n, err := pty.Open()
	if err == nil {
		far, err = unwatched(f)
	}
	if err == nil {
		near, err = unwatched(n)
	}
	if err != nil {
		panic(err)
	}
	return far, near
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
