package sim

import (
	"bufio"
	"context"
	"errors"
	"io"
	"net"
	"os"
	"runtime"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// client is the plainest client there can be: a file or a socket.
type client struct {
	t testing.TB
	io.ReadWriteCloser
	r *bufio.Reader
}

func dial(t testing.TB, link string) *client {
	t.Helper()
	kind, where, _ := strings.Cut(link, ":")
	var c io.ReadWriteCloser
	var err error
	if kind == "tcp" {
		c, err = net.Dial("tcp", where)
	} else {
		c, err = os.OpenFile(where, os.O_RDWR, 0)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return &client{t: t, ReadWriteCloser: c, r: bufio.NewReader(c)}
}

func (c *client) ask(message string) string {
	c.t.Helper()
	if _, err := io.WriteString(c, message+"\n"); err != nil {
		c.t.Fatal(err)
	}
	return c.line()
}

func (c *client) line() string {
	c.t.Helper()
	s, err := c.r.ReadString('\n')
	if err != nil {
		c.t.Fatalf("read: %q, %v", s, err)
	}
	return strings.TrimSuffix(s, "\n")
}

// served starts a bench at a speed, on both kinds of endpoint.
func served(t *testing.T, do func(t *testing.T, b *Bench)) {
	for _, tcp := range []bool{false, true} {
		name := "terminal"
		if tcp {
			name = "tcp"
		}
		t.Run(name, func(t *testing.T) {
			b := NewBench(NewClock(begin, 50), 1, Scenario{TCP: tcp})
			if err := b.Start(t.Context()); err != nil {
				t.Fatal(err)
			}
			defer b.Close()
			do(t, b)
		})
	}
}

func TestEveryInstrumentAnswers(t *testing.T) {
	served(t, func(t *testing.T, b *Bench) {
		want := map[string]string{DMM: IdentityDMM, DMM2: IdentityDMM2, DMM3: IdentityDMM3, DMM4: IdentityDMM4, Supply: IdentitySupply, Thermo: IdentityThermo}
		links := b.Links()
		for _, name := range Instruments() {
			c := dial(t, links[name])
			if got := c.ask("*IDN?"); got != want[name] {
				t.Errorf("%s: %q", name, got)
			}
			if got := c.ask("*IDN?\r"); got != want[name] {
				t.Errorf("%s with CR LF: %q", name, got)
			}
		}
	})
}

func TestClientsComeAndGo(t *testing.T) {
	served(t, func(t *testing.T, b *Bench) {
		for range 3 {
			c := dial(t, b.Links()[DMM])
			if got := c.ask("*IDN?"); got != IdentityDMM {
				t.Errorf("%q", got)
			}
			c.Close()
		}
	})
}

func TestReadingsArriveOverTheLine(t *testing.T) {
	served(t, func(t *testing.T, b *Bench) {
		if err := b.Touch(DMM, PointShorted, capture.Clipped); err != nil {
			t.Fatal(err)
		}
		c := dial(t, b.Links()[DMM])
		c.ask("CONF:RES 100;:RES:NPLC 0.2;*OPC?")
		for strings.HasPrefix(c.ask("READ?"), "+9.9") {
			t.Log("the clip does not touch yet")
		}
		for range 20 {
			if got := c.ask("READ?"); !strings.HasPrefix(got, "+0.18") && !strings.HasPrefix(got, "+0.19") {
				t.Errorf("leads shorted: %s", got)
			}
		}
	})
}

func TestReplugKeepsTheLink(t *testing.T) {
	served(t, func(t *testing.T, b *Bench) {
		link := b.Links()[DMM]
		c := dial(t, link)
		c.ask("*IDN?")
		if err := b.Fault("link down", DMM); err != nil {
			t.Fatal(err)
		}
		if s, err := c.r.ReadString('\n'); err == nil {
			t.Errorf("the pulled cable says %q", s)
		}
		c.Close()
		if _, where, _ := strings.Cut(link, ":"); strings.HasPrefix(link, "serial:") {
			if _, err := os.Stat(where); !errors.Is(err, os.ErrNotExist) {
				t.Errorf("%s is still there: %v", where, err)
			}
		}
		if err := b.Fault("link up", DMM); err != nil {
			t.Fatal(err)
		}
		if got := b.Links()[DMM]; got != link {
			t.Errorf("link %s became %s", link, got)
		}
		if got := dial(t, link).ask("*IDN?"); got != IdentityDMM {
			t.Errorf("back again: %q", got)
		}
		// A state survives: it is the same meter.
		dial(t, b.Links()[Supply]).ask("VOLT 7;*OPC?")
	})
}

func TestPortsSwapAfterReplug(t *testing.T) {
	served(t, func(t *testing.T, b *Bench) {
		links := b.Links()
		if err := b.Fault("swap links", DMM, DMM2); err != nil {
			t.Fatal(err)
		}
		if got := dial(t, links[DMM]).ask("*IDN?"); got != IdentityDMM2 {
			t.Errorf("behind %s: %q", links[DMM], got)
		}
		if got := dial(t, links[DMM2]).ask("*IDN?"); got != IdentityDMM {
			t.Errorf("behind %s: %q", links[DMM2], got)
		}
	})
}

func TestMischief(t *testing.T) {
	served(t, func(t *testing.T, b *Bench) {
		c := dial(t, b.Links()[DMM])
		fault := func(name string, args ...string) {
			t.Helper()
			if err := b.Fault(name, append([]string{DMM}, args...)...); err != nil {
				t.Fatal(err)
			}
		}
		fault("echo")
		if one, two := c.ask("*IDN?"), c.line(); one != "*IDN?" || two != IdentityDMM {
			t.Errorf("echo: %q, %q", one, two)
		}
		fault("stale")
		if one, two := c.ask("*OPC?"), c.line(); one != IdentityDMM || two != "1" {
			t.Errorf("stale: %q, %q", one, two)
		}
		fault("split")
		if got := c.ask("*IDN?"); got != IdentityDMM {
			t.Errorf("split: %q", got)
		}
		fault("nan", "2")
		if one, two := c.ask("*OPC?"), c.ask("*OPC?"); one != "+9.91000000E+37" || two != one {
			t.Errorf("nan: %q, %q", one, two)
		}
		fault("flood")
		if got := c.ask("*OPC?"); len(got) != 10000 {
			t.Errorf("flood: %d characters", len(got))
		}
		fault("garble")
		if got := c.ask("*IDN?"); strings.IndexFunc(got, func(r rune) bool { return r > '~' }) < 0 {
			t.Errorf("garble: %q", got)
		}
		start := time.Now()
		fault("late", "150ms")
		if c.ask("*OPC?"); time.Since(start) < 150*time.Millisecond {
			t.Error("late: it was not")
		}
		fault("mute")
		io.WriteString(c, "*OPC?\n")
		if got := c.ask("*IDN?"); got != IdentityDMM {
			t.Errorf("mute, then: %q", got)
		}
		fault("cut")
		io.WriteString(c, "*IDN?\n")
		if got := c.ask("*OPC?"); got != IdentityDMM[:len(IdentityDMM+"\n")/2]+"1" {
			t.Errorf("cut runs into the next: %q", got)
		}
		if got := c.ask("*OPC?"); got != "1" {
			t.Errorf("all over: %q", got)
		}
	})
}

func TestOverlongRequestIsRefused(t *testing.T) {
	served(t, func(t *testing.T, b *Bench) {
		c := dial(t, b.Links()[DMM])
		io.WriteString(c, strings.Repeat("A", 3*longestRequest)+"\n")
		if got := c.ask("SYST:ERR?"); got != `-363,"Input buffer overrun"` {
			t.Errorf("%q", got)
		}
	})
}

func TestCloseInTheMiddleOfAReading(t *testing.T) {
	b := NewBench(NewClock(begin, 0.001), 1, Scenario{}) // a reading takes minutes
	ctx, cancel := context.WithCancel(t.Context())
	if err := b.Start(ctx); err != nil {
		t.Fatal(err)
	}
	c := dial(t, b.Links()[DMM])
	io.WriteString(c, "READ?\n")
	cancel()
	b.Close()
	b.Close()
	if err := b.Start(t.Context()); err == nil {
		t.Error("it started again")
	}
}

func TestTerminalsAreUsedWhereTheyExist(t *testing.T) {
	b := NewBench(NewClock(begin, 1), 1, Scenario{})
	if err := b.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	want := "tcp:127.0.0.1:"
	if runtime.GOOS == "linux" || runtime.GOOS == "darwin" {
		want = "serial:"
	}
	if got := b.Links()[DMM]; !strings.HasPrefix(got, want) {
		t.Errorf("%s", got)
	}
}
