package drivers

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"go.uber.org/goleak"

	"steadyrail/capture"
	"steadyrail/drivers/wire"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func TestCheck(t *testing.T) {
	models := shipped(t)
	good := Config{Name: "supply", Model: "scpi-supply", Link: "tcp:127.0.0.1:5026", Acts: []string{"output", "limits"}, OnExit: "leave", CalibrationDue: "2027-03-01"}
	if err := Check(good, models); err != nil {
		t.Fatal(err)
	}
	for says, change := range map[string]func(*Config){
		"name: want a letter":             func(c *Config) { c.Name = "a/b" },
		`instrument ""`:                   func(c *Config) { c.Name = "" },
		"use one of ":                     func(c *Config) { c.Model = "scpi-suply" },
		"link: bad address":               func(c *Config) { c.Link = "gpib:22" },
		`has no "fire"`:                   func(c *Config) { c.Acts = []string{"fire"} },
		"on_exit is missing":              func(c *Config) { c.OnExit = "" },
		"want leave or off":               func(c *Config) { c.OnExit = "maybe" },
		"2027-3-1":                        func(c *Config) { c.CalibrationDue = "2027-3-1" },
		"every":                           func(c *Config) { c.Every = -1 },
		`model scpi-multimeter has no "o`: func(c *Config) { c.Model = "scpi-multimeter" },
		"has no output":                   func(c *Config) { c.Model, c.Acts, c.OnExit = "scpi-thermometer", nil, "off" },
	} {
		cfg := good
		change(&cfg)
		if err := Check(cfg, models); !errors.Is(err, ErrConfig) || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: got %v", says, err)
		}
	}
	bad := good
	bad.Name, bad.Model, bad.Link = "", "", ""
	if err := Check(bad, models); strings.Count(err.Error(), "\n") != 2 {
		t.Errorf("want three mistakes at once, got %v", err)
	}
	if in, err := Open(bad, models); in != nil || err == nil {
		t.Errorf("opened: %v, %v", in, err)
	}
}

func TestFlags(t *testing.T) {
	for err, want := range map[error]capture.Flags{
		ErrTimeout: capture.TimedOut, ErrGarbled: capture.Garbled, ErrInDoubt: capture.Garbled, ErrMalformed: capture.Garbled,
		ErrGone: capture.Disconnected, ErrStuck: capture.Disconnected, ErrClosed: capture.Disconnected, ErrBusy: capture.Disconnected,
		ErrDenied: capture.Disconnected, ErrNoPort: capture.Disconnected, ErrNotConnected: capture.Disconnected, ErrAddress: capture.Disconnected,
		ErrMismatch: capture.Mismatch, ErrRefused: capture.Refused, ErrNotAllowed: capture.Refused, ErrNoChannel: capture.Refused,
		context.Canceled: 0,
	} {
		if got := Flags(fmt.Errorf("dmm: measure volts: %w", err)); got != want || got&^capture.NoValue != 0 {
			t.Errorf("%v: %v, want %v", err, got, want)
		}
	}
}

func TestInfo(t *testing.T) {
	cfg := Config{Name: "dmm", Model: "scpi-multimeter", Link: "serial:/dev/ttyUSB9?baud=19200", Every: 100e6,
		Isolation: capture.Isolation{Category: "CAT II 300 V", Port: "isolated"}, CalibrationDue: "2027-03-01"}
	in, err := Open(cfg, shipped(t))
	if err != nil {
		t.Fatal(err)
	}
	info := in.Info()
	if len(info.Channels) != 2 || info.Channels[0].ID != "dmm/volts" || info.Channels[0].Every != 100e6 ||
		info.Channels[1].Group != "input" || info.Isolation != cfg.Isolation || info.Link != cfg.Link || info.Title == "" {
		t.Fatalf("%+v", info)
	}
	if got := in.Transfer(16); got.Microseconds() != 8333 { // 16 characters of ten bits at 19200 Bd
		t.Errorf("16 characters take %v", got)
	}
	if err := in.Connect(t.Context()); !errors.Is(err, ErrNoPort) {
		t.Errorf("got %v", err)
	}
	if err := in.Close(); err != nil {
		t.Error(err)
	}
}

// accept counts connections and answers like a thermometer.
func accept(t *testing.T) (where string, connections func() int) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	count := make(chan int, 1)
	count <- 0
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			count <- <-count + 1
			go answerAll(c)
		}
	}()
	t.Cleanup(func() { _ = l.Close(); <-ended })
	return l.Addr().String(), func() int { n := <-count; count <- n; return n }
}

func answerAll(c net.Conn) {
	defer c.Close()
	buf := make([]byte, 256)
	for {
		n, err := c.Read(buf)
		if err != nil {
			return
		}
		for _, line := range strings.Split(strings.TrimSpace(string(buf[:n])), "\n") {
			switch line {
			case "*IDN?":
				_, _ = fmt.Fprintln(c, "Simulated,Thermometer,00077001,1.0")
			case "SYST:ERR?":
				_, _ = fmt.Fprintln(c, `0,"No error"`)
			case "READ?":
				_, _ = fmt.Fprintln(c, "+23.41E+00")
			}
		}
	}
}

// TestSharedLink: two instruments at one place have one connection, which ends
// with the last of them; after that a new one is made.
func TestSharedLink(t *testing.T) {
	where, connections := accept(t)
	models := shipped(t)
	var links Links
	open := func(name string) Instrument {
		in, err := links.Open(Config{Name: name, Model: "scpi-thermometer", Link: "tcp:" + where}, models)
		if err != nil {
			t.Fatal(err)
		}
		if err := in.Connect(t.Context()); err != nil {
			t.Fatal(err)
		}
		return in
	}
	read := func(in Instrument) {
		t.Helper()
		id := in.Info().Channels[0].ID
		if r, err := in.Measure(t.Context(), id); err != nil || r.Value != 23.41 {
			t.Fatalf("%+v, %v", r, err)
		}
	}
	a, b := open("a"), open("b")
	read(a)
	read(b)
	if n := connections(); n != 1 {
		t.Fatalf("%d connections, want 1", n)
	}
	for range 2 { // letting go twice does not let go for the other
		if err := a.Drop(); err != nil {
			t.Fatal(err)
		}
	}
	read(b)
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	c := open("c")
	read(c)
	if n := connections(); n != 2 {
		t.Fatalf("%d connections, want 2", n)
	}
	_ = c.Close()
}

// TestRecord: what goes over the wire can be played again, a file for each
// connection.
func TestRecord(t *testing.T) {
	where, _ := accept(t)
	file := filepath.Join(t.TempDir(), "thermo.txt")
	cfg := Config{Name: "unit", Model: "scpi-thermometer", Link: "tcp:" + where, Record: file}
	models := shipped(t)
	in, err := Open(cfg, models)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if err := in.Connect(t.Context()); err != nil {
			t.Fatal(err)
		}
		if _, err := in.Measure(t.Context(), "unit/celsius"); err != nil {
			t.Fatal(err)
		}
		if err := in.Drop(); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{file, file + ".2"} {
		text, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		player, err := wire.NewPlayer(text)
		_ = text.Close()
		if err != nil {
			t.Fatal(err)
		}
		again := withLink(t, "scpi-thermometer", models["scpi-thermometer"], player)
		if err := again.Connect(t.Context()); err != nil {
			t.Fatal(err)
		}
		if r, err := again.Measure(t.Context(), "unit/celsius"); err != nil || r.Value != 23.41 {
			t.Fatalf("%+v, %v", r, err)
		}
		if err := player.Done(); err != nil {
			t.Fatal(err)
		}
	}
	cfg.Record = filepath.Join(file, "under a file")
	in, err = Open(cfg, models)
	if err != nil {
		t.Fatal(err)
	}
	if err := in.Connect(t.Context()); err == nil || !strings.Contains(err.Error(), "record the wire") {
		t.Fatalf("got %v", err)
	}
}
