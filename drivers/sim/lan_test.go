package sim

import (
	"context"
	"errors"
	"net"
	"strings"
	"testing"
	"time"

	"steadyrail/drivers/wire"
)

// onLAN serves the first two multimeters and the supply over one transport and
// the rest as ever.
func onLAN(t *testing.T, transport string) *Bench {
	t.Helper()
	b := NewBench(NewClock(begin, 50), 1, Scenario{TCP: true, Transport: map[string]string{DMM: transport, DMM2: transport, Supply: transport}})
	if err := b.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(b.Close)
	return b
}

func openWire(t *testing.T, link string) *wire.Conn {
	t.Helper()
	a, err := wire.ParseAddress(link)
	if err != nil {
		t.Fatal(err)
	}
	c, err := wire.Open(t.Context(), a, wire.Line{AnswerTimeout: 300 * time.Millisecond, ReadTimeout: 10 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

func eachTransport(t *testing.T, do func(t *testing.T, transport string)) {
	t.Parallel()
	for _, transport := range []string{TransportTCP, TransportHiSLIP, TransportVXI11} {
		t.Run(transport, func(t *testing.T) {
			t.Parallel()
			do(t, transport)
		})
	}
}

// ask is a query that must succeed.
func ask(t *testing.T, c *wire.Conn, request string) string {
	t.Helper()
	answer, err := c.Query(t.Context(), request)
	if err != nil {
		t.Fatal(err)
	}
	return answer
}

func TestTransports(t *testing.T) {
	eachTransport(t, func(t *testing.T, transport string) {
		b := onLAN(t, transport)
		links := b.Links()
		if !strings.HasPrefix(links[DMM], transport+":127.0.0.1:") || !strings.HasPrefix(links[Thermo], "tcp:") {
			t.Fatalf("links %v", links)
		}
		dmm, supply := openWire(t, links[DMM]), openWire(t, links[Supply])
		for range 3 {
			if got := ask(t, dmm, "*IDN?"); got != IdentityDMM {
				t.Fatalf("got %q", got)
			}
			if got := ask(t, supply, "*IDN?"); got != IdentitySupply {
				t.Fatalf("got %q", got)
			}
		}
		if err := supply.Send(t.Context(), "VOLT 12.5"); err != nil {
			t.Fatal(err)
		}
		if got := ask(t, supply, "VOLT?"); !strings.HasPrefix(got, "+1.25") && !strings.HasPrefix(got, "12.5") {
			t.Fatalf("got %q", got)
		}
		// Longer than the simulated instrument takes in one piece.
		long := "*IDN?" + strings.Repeat(" ", 2500) + ";*IDN?"
		if got := ask(t, dmm, long); got != IdentityDMM+";"+IdentityDMM {
			t.Fatalf("got %q", got)
		}
		for range 2 {
			if got := ask(t, supply, "SYST:ERR?"); got != `0,"No error"` {
				t.Fatalf("an error was left: %s", got)
			}
		}
	})
}

// TestTransportsLate: a late answer is never taken for the next one's, in or
// out of doubt, and after draining everything is as before.
func TestTransportsLate(t *testing.T) {
	eachTransport(t, func(t *testing.T, transport string) {
		b := onLAN(t, transport)
		ctx, c := t.Context(), openWire(t, b.Links()[DMM])
		if got := ask(t, c, "*IDN?"); got != IdentityDMM {
			t.Fatalf("got %q", got)
		}
		b.taps[DMM].ask("late", 1, 500*time.Millisecond)
		start := time.Now()
		_, err := c.Query(ctx, "SYST:ERR?")
		if !errors.Is(err, wire.ErrTimeout) {
			t.Fatalf("got %v", err)
		}
		if took := time.Since(start); took < 250*time.Millisecond {
			t.Errorf("it gave up after %v", took)
		}
		if _, err := c.Query(ctx, "*IDN?"); !errors.Is(err, wire.ErrInDoubt) {
			t.Fatalf("got %v", err)
		}
		if err := c.Send(ctx, "*CLS"); err != nil {
			t.Fatal(err)
		}
		time.Sleep(400 * time.Millisecond) // until the late answer has surely come
		if err := c.Drain(ctx); err != nil {
			t.Fatal(err)
		}
		for range 3 {
			if got := ask(t, c, "*IDN?"); got != IdentityDMM {
				t.Fatalf("got %q", got)
			}
		}
		if got := ask(t, c, "SYST:ERR?"); got != `0,"No error"` {
			t.Fatalf("an error was left: %s", got)
		}
	})
}

// TestTransportsClear: the clear of the transport ends an answer that would
// come much later; a socket has no clear.
func TestTransportsClear(t *testing.T) {
	t.Parallel()
	for _, transport := range []string{TransportHiSLIP, TransportVXI11} {
		t.Run(transport, func(t *testing.T) {
			t.Parallel()
			b := onLAN(t, transport)
			ctx, c := t.Context(), openWire(t, b.Links()[DMM])
			for range 3 {
				b.taps[DMM].ask("late", 1, time.Minute)
				if _, err := c.Query(ctx, "SYST:ERR?"); !errors.Is(err, wire.ErrTimeout) {
					t.Fatalf("got %v", err)
				}
				if err := c.Drain(ctx); err != nil {
					t.Fatal(err)
				}
				if got := ask(t, c, "*IDN?"); got != IdentityDMM {
					t.Fatalf("got %q", got)
				}
			}
		})
	}
}

// TestTransportsSpoilt: split answers are whole, muted and cut ones time out,
// // an echo is noticed. What no transport can tell is an old answer that the instrument
// itself sends in the place of the right one.
func TestTransportsSpoilt(t *testing.T) {
	eachTransport(t, func(t *testing.T, transport string) {
		b := onLAN(t, transport)
		ctx, c := t.Context(), openWire(t, b.Links()[DMM])
		if got := ask(t, c, "*IDN?"); got != IdentityDMM {
			t.Fatalf("got %q", got)
		}
		b.taps[DMM].ask("split", 1, 0)
		if got := ask(t, c, "*IDN?"); got != IdentityDMM {
			t.Fatalf("got %q", got)
		}
		for _, mischief := range []string{"mute", "cut", "echo", "flood"} {
			b.taps[DMM].ask(mischief, 1, 0)
			if got, err := c.Query(ctx, "SYST:ERR?"); err == nil && got != `0,"No error"` {
				t.Errorf("%s: %q went through", mischief, got)
			}
			if err := c.Drain(ctx); err != nil {
				t.Fatalf("%s: %v", mischief, err)
			}
			if got := ask(t, c, "*IDN?"); got != IdentityDMM {
				t.Fatalf("after %s: got %q", mischief, got)
			}
		}
	})
}

// TestTransportsReplug: a link comes back under its string, and whoever held
// it is told.
func TestTransportsReplug(t *testing.T) {
	eachTransport(t, func(t *testing.T, transport string) {
		b := onLAN(t, transport)
		link := b.Links()[DMM]
		for range 3 {
			c := openWire(t, link)
			if got := ask(t, c, "*IDN?"); got != IdentityDMM {
				t.Fatalf("got %q", got)
			}
			b.must(t, "link down")
			if _, err := c.Query(t.Context(), "*IDN?"); !errors.Is(err, wire.ErrGone) {
				t.Fatalf("got %v", err)
			}
			b.must(t, "link up")
			if b.Links()[DMM] != link {
				t.Fatal("the link string changed")
			}
		}
	})
}

func (b *Bench) must(t *testing.T, fault string) {
	t.Helper()
	if err := b.Fault(fault, DMM); err != nil {
		t.Fatal(err)
	}
}

// TestTransportsOneClient: the second client is told that somebody else is
// connected, and gets its turn afterwards.
func TestTransportsOneClient(t *testing.T) {
	t.Parallel()
	for _, transport := range []string{TransportHiSLIP, TransportVXI11} {
		t.Run(transport, func(t *testing.T) {
			t.Parallel()
			b := onLAN(t, transport)
			link := b.Links()[DMM]
			first := openWire(t, link)
			a, err := wire.ParseAddress(link)
			if err != nil {
				t.Fatal(err)
			}
			ctx, giveUp := context.WithTimeout(t.Context(), 500*time.Millisecond)
			defer giveUp()
			if _, err := wire.Open(ctx, a, wire.Line{}); !errors.Is(err, wire.ErrBusy) || !strings.Contains(err.Error(), "someone else") {
				t.Fatalf("got %v", err)
			}
			if got := ask(t, first, "*IDN?"); got != IdentityDMM {
				t.Fatalf("got %q", got)
			}
			if err := first.Close(); err != nil {
				t.Fatal(err)
			}
			if got := ask(t, openWire(t, link), "*IDN?"); got != IdentityDMM {
				t.Fatalf("got %q", got)
			}
		})
	}
}

func TestTransportsOtherName(t *testing.T) {
	for transport, name := range map[string]string{TransportHiSLIP: "hislip7", TransportVXI11: "gpib0,22"} {
		b := onLAN(t, transport)
		where, _, _ := strings.Cut(b.Links()[DMM], "/")
		a, err := wire.ParseAddress(where + "/" + name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := wire.Open(t.Context(), a, wire.Line{}); !errors.Is(err, wire.ErrNoPort) {
			t.Fatalf("%s: got %v", transport, err)
		} else {
			t.Log(err)
		}
	}
}

// TestTransportsStrangers: noise on the port disturbs nobody for long.
func TestTransportsStrangers(t *testing.T) {
	for _, transport := range []string{TransportHiSLIP, TransportVXI11} {
		b := onLAN(t, transport)
		where, _, _ := strings.Cut(strings.TrimPrefix(b.Links()[DMM], transport+":"), "/")
		for _, noise := range []string{"", "GET / HTTP/1.0\r\n\r\n", "HS\x00\x00\x01\x00XX\xff\xff\xff\xff\xff\xff\xff\xff", "\xff\xff\xff\xff\x00\x00", strings.Repeat("\x00", 40)} {
			conn, err := net.Dial("tcp", where)
			if err != nil {
				t.Fatal(err)
			}
			conn.Write([]byte(noise))
			conn.Close()
		}
		if got := ask(t, openWire(t, b.Links()[DMM]), "*IDN?"); got != IdentityDMM {
			t.Fatalf("%s: got %q", transport, got)
		}
	}
}

func TestTransportUnknown(t *testing.T) {
	b := NewBench(NewClock(begin, 50), 1, Scenario{Transport: map[string]string{DMM: "carrier pigeon"}})
	defer b.Close()
	if err := b.Start(t.Context()); err == nil || !strings.Contains(err.Error(), "hislip") {
		t.Fatalf("got %v", err)
	}
}
