//go:build linux || darwin

package drivers

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"sync/atomic"
	"testing"
	"time"

	"github.com/creack/pty"
	"go.bug.st/serial"

	"steadyrail/capture"
	"steadyrail/capture/poll"
)

// textLine serves the units of a gateway on a pseudo-terminal. A mute unit says
// nothing from then on.
func textLine(t *testing.T, mute *atomic.Value) string {
	t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		t.Skipf("no pseudo-terminal here: %v", err)
	}
	// Opening it once turns the terminal's echo and line editing off.
	port, err := serial.Open(slave.Name(), &serial.Mode{BaudRate: 115200})
	if err == nil {
		err = port.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() { serveText(master, mute); close(done) }()
	t.Cleanup(func() { _ = slave.Close(); <-done; _ = master.Close() })
	return "serial:" + slave.Name()
}

func serveText(master *os.File, mute *atomic.Value) {
	g, reaches := &gateway{}, ""
	for lines := bufio.NewScanner(master); lines.Scan(); {
		text, ok := g.answer(lines.Text(), &reaches)
		if ok && reaches != mute.Load() {
			_, _ = fmt.Fprintln(master, text)
		}
	}
}

// TestMuteUnitOnATextLine: two SCPI units on one pair, and one falls silent. The
// other loses no reading: what the time-out left of the line is cleared up
// before it is asked, and it is asked who it is.
func TestMuteUnitOnATextLine(t *testing.T) {
	var mute atomic.Value
	mute.Store("")
	where := textLine(t, &mute)
	m, err := ParseModel("behind", "behind.yaml", []byte(tiny+"line: {select: \"ADDR {}\", answer_timeout: 250 ms}\n"))
	if err != nil {
		t.Fatal(err)
	}
	var links Links
	var units []poll.Instrument
	for name, address := range map[string]string{"a": "7", "b": "22"} {
		in, err := links.Open(Config{Name: name, Model: "behind", Link: where + "?address=" + address + "&answer=250ms", Every: 50 * time.Millisecond}, Models{"behind": m})
		if err != nil {
			t.Fatal(err)
		}
		units = append(units, in)
	}
	clock := capture.NewWallClock()
	s := &tally{clock: clock, all: map[capture.ChannelID]int{}, good: map[capture.ChannelID]int{}}
	loop := poll.New("line", units, clock, s, poll.Options{Classify: Flags, Seed: 1})
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- loop.Run(ctx) }()
	s.atLeast(t, "all is well", "a/volts", 3)
	s.atLeast(t, "all is well", "b/volts", 3)
	mute.Store("7")
	s.atLeast(t, "the other goes on", "b/volts", 15)
	mute.Store("")
	s.atLeast(t, "it is back", "a/volts", 2)
	stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	if all, good := s.counted("b/volts"); all != good {
		t.Errorf("b: %d of %d readings are good", good, all)
	}
	if all, good := s.counted("a/volts"); all == good {
		t.Errorf("a: %d of %d: its silence was not seen", good, all)
	}
}
