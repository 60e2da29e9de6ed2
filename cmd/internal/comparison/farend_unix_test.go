//go:build unix

package comparison

import (
	"bufio"
	"io"
	"os"
	"strconv"
	"strings"
	"time"
)

// farEndEnv, set to a baud rate, makes the test program a far end; 1 is as
// fast as it can.
const farEndEnv = "COMPARISON_FAR_END"

// What is asked and answered all the time.
const (
	request = "READ?"
	answer  = "+5.01200E+00"
)

// farEnd answers every line as a multimeter would that has its reading ready.
// With a baud rate it is as slow as that wire, ten bits a character, both ways,
// and looks all the time instead of waiting to be woken: being woken takes
// longer than a character.
func farEnd(master *os.File, rate string) {
	baud, _ := strconv.Atoi(rate)
	in := bufio.NewReader(master)
	if baud > 1 {
		in = bufio.NewReader(looking{master.Fd()})
	}
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return
		}
		text := reply(strings.TrimSuffix(line, "\n"))
		if text == "" {
			continue
		}
		if baud > 1 {
			waitUntil(time.Now().Add(wireTime(len(line)+len(text), baud)))
		}
		if _, err := io.WriteString(master, text); err != nil {
			return
		}
	}
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
		time.Sleep(left - 2*time.Millisecond)
	}
	for time.Now().Before(due) {
	}
}

// wireTime is how long n characters of ten bits are under way.
func wireTime(n, baud int) time.Duration {
	return time.Duration(n) * 10 * time.Second / time.Duration(baud)
}
