package wire

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"
)

// outsideServer starts testdata/outside_server.py, an instrument made of the
// general-purpose bus library from Debian (python3-pyvisa, python3-pyvisa-py).
// It returns the ports of the instrument and of its port mapper, and what the
// server prints.
func outsideServer(t *testing.T) (core, mapper int, said *bufio.Reader) {
	t.Helper()
	const python = "/usr/bin/python3"
	if out, err := exec.Command(python, "-c", "import pyvisa_py").CombinedOutput(); err != nil {
		missing := "NOT CHECKED: the general-purpose bus library is missing: apt-get install python3-pyvisa python3-pyvisa-py: " + string(out)
		if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
			t.Fatal(missing)
		}
		t.Skip(missing)
	}
	cmd := exec.CommandContext(t.Context(), python, "testdata/outside_server.py")
	var errs bytes.Buffer
	cmd.Stderr = &errs
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = in.Close(); _ = cmd.Wait() })
	said = bufio.NewReader(out)
	if _, err := fmt.Fscanln(said, &core, &mapper); err != nil {
		t.Fatalf("%v: %s", err, errs.String())
	}
	return core, mapper, said
}

// TestVXI11OutsideServer: requests in pieces of five bytes, answers in pieces of
// four, records in fragments of seven; a late answer; the port mapper; leaving.
func TestVXI11OutsideServer(t *testing.T) {
	core, mapper, said := outsideServer(t)
	ctx := t.Context()
	found, err := lookUp(ctx, time.Now().Add(2*time.Second), fmt.Sprintf("127.0.0.1:%d", mapper), DefaultLine())
	if err != nil || found != core {
		t.Fatalf("the port mapper says %d, %v; want %d", found, err, core)
	}
	c := openLAN(t, fmt.Sprintf("vxi11:127.0.0.1:%d/gpib0,22", core), 300*time.Millisecond)
	for range 3 {
		if got, err := c.Query(ctx, "MEASURE:VOLTAGE:DC?"); err != nil || got != "answer to MEASURE:VOLTAGE:DC?" {
			t.Fatalf("%q, %v", got, err)
		}
	}
	if err := c.Send(ctx, "OUTP OFF"); err != nil {
		t.Fatal(err)
	}
	for _, silent := range []string{"MUTE?", "SLOW?"} {
		if _, err := c.Query(ctx, silent); err == nil {
			continue // a slow one is answered by the write itself
		} else if !errors.Is(err, ErrTimeout) {
			t.Fatalf("%s: %v", silent, err)
		}
		if _, err := c.Query(ctx, "A?"); !errors.Is(err, ErrInDoubt) {
			t.Fatalf("got %v", err)
		}
		if err := c.Drain(ctx); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := c.Query(ctx, "A?"); err != nil || got != "answer to A?" {
		t.Fatalf("%q, %v", got, err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	if line, err := said.ReadString('\n'); strings.TrimSpace(line) != "left" {
		t.Fatalf("it saw us leave as %q, %v", line, err)
	}
	a, err := ParseAddress(fmt.Sprintf("vxi11:127.0.0.1:%d/gpib0,23", core))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Open(ctx, a, Line{}); !errors.Is(err, ErrNoPort) || !strings.Contains(err.Error(), "gpib0,23") {
		t.Fatalf("got %v", err)
	}
}
