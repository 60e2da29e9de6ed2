package drivers

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"steadyrail/capture"
)

// gateway is a far end with several instruments behind it: "ADDR n" says who is
// meant from then on.
type gateway struct {
	mu     sync.Mutex
	heard  []string
	lost   bool   // it forgets whom it reaches
	always string // whom it reaches without being told; empty: nobody
}

func (g *gateway) answer(line string, reaches *string) (string, bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.heard = append(g.heard, line)
	if who, ok := strings.CutPrefix(line, "ADDR "); ok {
		*reaches = who
		return "", false
	}
	switch {
	case *reaches != "7" && *reaches != "22":
		return "", false // nobody there
	case line == "*IDN?":
		return fmt.Sprintf("Simulated,Multimeter,000%s,1.0", *reaches), true
	case line == "SYST:ERR?":
		return `0,"No error"`, true
	case line == "READ?" && g.lost:
		g.lost = false
		return "no number", true
	case line == "READ?":
		return *reaches + ".5", true
	}
	return "", false
}

func (g *gateway) serve(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	all.Add(1)
	go func() {
		defer all.Done()
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			all.Add(1)
			go func() {
				defer all.Done()
				defer c.Close()
				reaches := g.always
				for lines := bufio.NewScanner(c); lines.Scan(); {
					if text, ok := g.answer(lines.Text(), &reaches); ok {
						_, _ = fmt.Fprintln(c, text)
					}
				}
			}()
		}
	}()
	t.Cleanup(func() { _ = l.Close(); all.Wait() })
	return "tcp:" + l.Addr().String()
}

func (g *gateway) said(prefix string) (n int) {
	g.mu.Lock()
	defer g.mu.Unlock()
	for _, line := range g.heard {
		if strings.HasPrefix(line, prefix) {
			n++
		}
	}
	return n
}

func shared(t *testing.T) Models {
	t.Helper()
	m, err := ParseModel("behind", "behind.yaml", []byte(tiny+"line: {select: \"ADDR {}\", answer_timeout: 300 ms}\n"))
	if err != nil {
		t.Fatal(err)
	}
	return Models{"behind": m}
}

// TestSharedByAddress: two instruments behind one connection keep their
// readings, and the address is said only when it changes or is in doubt.
func TestSharedByAddress(t *testing.T) {
	g := &gateway{}
	where := g.serve(t)
	var links Links
	models := shared(t)
	open := func(name, address string) Instrument {
		in, err := links.Open(Config{Name: name, Model: "behind", Link: where + "?address=" + address}, models)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = in.Close() })
		if err := in.Connect(t.Context()); err != nil {
			t.Fatal(err)
		}
		return in
	}
	a, b := open("a", "7"), open("b", "22")
	if id := b.Info().Identity; id.Serial != "00022" {
		t.Fatalf("identity %+v", id)
	}
	before := g.said("ADDR")
	for range 3 {
		for range 4 {
			near(t, "a", measure(t, a, "volts"), 7.5, 0)
		}
		near(t, "b", measure(t, b, "volts"), 22.5, 0)
	}
	if n := g.said("ADDR") - before; n != 6 {
		t.Errorf("the address was said %d times for 6 changes", n)
	}
	g.mu.Lock()
	g.lost = true
	g.mu.Unlock()
	if _, err := b.Measure(t.Context(), "b/volts"); !errors.Is(err, ErrMalformed) {
		t.Fatalf("got %v", err)
	}
	near(t, "a after b's trouble", measure(t, a, "volts"), 7.5, 0)
	near(t, "b again", measure(t, b, "volts"), 22.5, 0)
	if b.Resyncs() != 1 || a.Resyncs() != 0 {
		t.Errorf("resynchronised %d and %d times", a.Resyncs(), b.Resyncs())
	}
}

// TestNobodyAtTheAddress is a time-out like any other, and the next one is still
// reached.
func TestNobodyAtTheAddress(t *testing.T) {
	g := &gateway{}
	where := g.serve(t)
	var links Links
	models := shared(t)
	for address, want := range map[string]error{"9": ErrTimeout, "7": nil} {
		in, err := links.Open(Config{Name: "a" + address, Model: "behind", Link: where + "?address=" + address}, models)
		if err != nil {
			t.Fatal(err)
		}
		if err := in.Connect(t.Context()); !errors.Is(err, want) {
			t.Errorf("%s: got %v", address, err)
		}
		_ = in.Close()
	}
}

// TestAddressAndPhraseGoTogether: an instrument that was reached last must not
// answer for another.
func TestAddressAndPhraseGoTogether(t *testing.T) {
	models := shared(t)
	models["scpi-supply"] = shipped(t)["scpi-supply"]
	for _, c := range []struct{ model, link, says string }{
		{"behind", "tcp:127.0.0.1:1", "add ?address="},
		{"scpi-supply", "tcp:127.0.0.1:1?address=5", "does not say how an address is chosen"},
		{"behind", "tcp:127.0.0.1:1?address=5%3BOUTP%20ON", "use letters, digits"},
	} {
		if err := Check(Config{Name: "a", Model: c.model, Link: c.link}, models); !errors.Is(err, ErrConfig) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v", c.link, err)
		}
	}
	if err := Check(Config{Name: "a", Model: "behind", Link: "tcp:127.0.0.1:1?address=5"}, models); err != nil {
		t.Error(err)
	}
}

var _ capture.RangeFixer = (*warmed)(nil)

// TestDropSaysNothing: after a loss somebody else may be at the other end, so
// only who is left on purpose hears the closing phrases, and once.
func TestDropSaysNothing(t *testing.T) {
	m, err := ParseModel("polite", "polite.yaml", []byte(tiny+"line: {closing: [\"SYST:LOC\"]}\n"))
	if err != nil {
		t.Fatal(err)
	}
	for _, record := range []string{"", t.TempDir() + "/wire.txt"} {
		g := &gateway{always: "7"}
		in, err := Open(Config{Name: "a", Model: "polite", Link: g.serve(t), Record: record}, Models{"polite": m})
		if err != nil {
			t.Fatal(err)
		}
		for range 2 {
			if err := in.Connect(t.Context()); err != nil {
				t.Fatal(err)
			}
			if err := in.Drop(); err != nil {
				t.Fatal(err)
			}
		}
		if err := in.Connect(t.Context()); err != nil { // the far end has read all that came before
			t.Fatal(err)
		}
		if n := g.said("SYST:LOC"); n != 0 {
			t.Errorf("dropping said goodbye %d times", n)
		}
		if err := in.Close(); err != nil {
			t.Fatal(err)
		}
		eventually(t, "the closing phrase", func() bool { return g.said("SYST:LOC") == 1 })
	}
}

// TestNobodySpeaksPastTheAddress: an instrument without an address, on the wire
// of others that have one, would be answered by whoever was reached last.
func TestNobodySpeaksPastTheAddress(t *testing.T) {
	models := shared(t)
	alone, err := ParseModel("alone", "alone.yaml", []byte(tiny))
	if err != nil {
		t.Fatal(err)
	}
	models["alone"] = alone
	where := (&gateway{}).serve(t)
	var links Links
	open := func(model, link string) Instrument {
		in, err := links.Open(Config{Name: model, Model: model, Link: link}, models)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = in.Close() })
		return in
	}
	if err := open("behind", where+"?address=7").Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := open("alone", where).Connect(t.Context()); !errors.Is(err, ErrAddress) {
		t.Fatalf("got %v", err)
	}
}

// TestLateAnswerIsLetPass: a unit that an impatient caller gave up on answers
// after all. Its answer must not become another unit's.
func TestLateAnswerIsLetPass(t *testing.T) {
	p := &place{owed: time.Now().Add(80 * time.Millisecond)}
	ctx, cancel := context.WithTimeout(t.Context(), time.Millisecond)
	defer cancel()
	if err := p.letPass(ctx); !errors.Is(err, ErrTimeout) {
		t.Errorf("not waited for: %v", err)
	}
	if err := p.letPass(t.Context()); err != nil || time.Now().Before(p.owed) {
		t.Errorf("let pass too early: %v", err)
	}
}
