package cli_test

import (
	"context"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/drivers/sim"
)

// Killed in the middle of an injection, the daemon switches off at its next start
// what it had switched on, and says so in the record; but where somebody has set
// the supply otherwise meanwhile, it leaves it alone and says that.
func TestKilledInAnInjection(t *testing.T) {
	slow(t)
	for name, c := range map[string]struct {
		meanwhile string // told to the supply while nobody was there
		on        float64
		ended     string
	}{
		"as it was": {"", 0, "the program ended in it"},
		"set anew":  {"VOLT 5", 1, "the supply is set otherwise now"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			bench := injecting(t, dir)
			if v, err := bench.Truth("supply on"); err != nil || v != 1 {
				t.Fatalf("the kill switched it: %g, %v", v, err)
			}
			if c.meanwhile != "" {
				tellSupply(t, bench, c.meanwhile)
			}
			launch(t, dir).killWhen(t, func() bool { return strings.Contains(injectionEnd(t, dir), c.ended) })
			if v, err := bench.Truth("supply on"); err != nil || v != c.on {
				t.Errorf("on: %g, want %g, %v", v, c.on, err)
			}
		})
	}
}

// injecting starts a daemon, has it inject, and kills it.
func injecting(t *testing.T, dir string) *sim.Bench {
	t.Helper()
	bench, config, err := newSupplyBench()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(bench.Close)
	if err := os.WriteFile(filepath.Join(dir, "bench.yaml"), []byte(config), 0o600); err != nil {
		t.Fatal(err)
	}
	d := launch(t, dir)
	for _, args := range [][]string{
		{"job", "open", "AB-0147", "--rails", "+12 5%"}, {"job", "stage", "cold checks"},
		{"enter", "+12 V", "0.84 ohm"},
		{"inject", "supply", "--volts", "0.3", "--trace", "1", "--part", "0.5", "--lead", "2", "--yes"},
	} {
		insist(t, dir, append(args, "--workspace", "bench")...)
	}
	d.killWhen(t, func() bool { return strings.Contains(injectionStart(t, dir), "volts 0.3") })
	return bench
}

// insist runs a command until the bench is awake enough for it.
func insist(t *testing.T, dir string, args ...string) {
	t.Helper()
	for end := time.Now().Add(patience); ; {
		code, out, errs := program(t, dir, args...)
		if code == 0 {
			return
		}
		if code != 3 || time.Now().After(end) {
			t.Fatalf("%s: exit %d\n%s%s", args, code, out, errs)
		}
	}
}

// killWhen kills the daemon as soon as something is so.
func (d *daemon) killWhen(t *testing.T, is func() bool) {
	t.Helper()
	for end := time.Now().Add(patience); !is(); time.Sleep(20 * time.Millisecond) { // another process has no channel to wait on
		if time.Now().After(end) {
			_ = d.cmd.Process.Kill()
			t.Fatalf("it never came to this\n%s", <-d.said)
		}
	}
	d.kill(t)
}

func injectionStart(t *testing.T, dir string) string { first, _ := injections(t, dir); return first }
func injectionEnd(t *testing.T, dir string) string   { _, last := injections(t, dir); return last }

// injections returns the first and the last word on an injection in the file.
func injections(t *testing.T, dir string) (first, last string) {
	t.Helper()
	ctx := context.Background()
	f, err := store.OpenFile(filepath.Join(dir, "bench", "jobs", "AB-0147"+store.Extension))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close(ctx)
	err = f.Records(ctx, 0, 0, func(rec capture.Record) error {
		if a, ok := rec.Item.(capture.Act); ok && a.Verb == capture.ActInject {
			if first == "" {
				first = a.Text
			}
			last = a.Text
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return first, last
}

// tellSupply sends the supply a line as another program would.
func tellSupply(t *testing.T, b *sim.Bench, line string) {
	t.Helper()
	address, isTCP := strings.CutPrefix(b.Links()[sim.Supply], "tcp:")
	if !isTCP {
		t.Fatalf("%s is not reached by TCP", b.Links()[sim.Supply])
	}
	c, err := net.DialTimeout("tcp", strings.TrimPrefix(address, "//"), patience)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if err := c.SetDeadline(time.Now().Add(patience)); err != nil {
		t.Fatal(err)
	}
	if _, err := fmt.Fprintf(c, "%s\n*OPC?\n", line); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Read(make([]byte, 16)); err != nil {
		t.Fatal(err)
	}
}
