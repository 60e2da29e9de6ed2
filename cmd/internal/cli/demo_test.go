package cli_test

import (
	"context"
	"encoding/json"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

var (
	reportLine = regexp.MustCompile(`(?m)^Report: (.+)$`)
	figure     = regexp.MustCompile(`[0-9]+\.[0-9]{2,}`)
)

// The whole demo, at its shortest, with two seeds: each ends by itself, has a
// report, finds the short, convicts the part that carries it and acquits the
// others, is told of the collapse; and the figures are measured, for they are
// not the same.
func TestDemo(t *testing.T) {
	slow(t)
	t.Parallel()
	var told [2][]string
	t.Run("seeds", func(t *testing.T) {
		for i, seed := range []string{"1", "2"} {
			t.Run(seed, func(t *testing.T) {
				t.Parallel()
				told[i] = demo(t, seed)
			})
		}
	})
	same := 0
	for i := range min(len(told[0]), len(told[1])) {
		if told[0][i] == told[1][i] {
			same++
		}
	}
	if n := len(told[0]); n < 30 || same > n/2 {
		t.Errorf("of %d figures %d are the same with another seed", n, same)
	}
}

// demo runs a demo and returns the figures that it told.
func demo(t *testing.T, seed string) []string {
	dir := t.TempDir()
	began := time.Now()
	code, out, errs := program(t, dir, "demo", "--for", "20s", "--listen", "127.0.0.1:0", "--workspace", "record", "--seed", seed)
	t.Logf("%s", time.Since(began))
	if code != 0 {
		t.Fatalf("exit %d\n%s%s", code, out, errs)
	}
	for _, want := range []string{
		"+5 V logic is short to its return", "CN3 lifted: ", "Acquitted: ", "PS2 lifted: ", "Convicted: ", "by itself it reads",
		"Preset to ", "fit-in shift", "Trimmed to ", "+5 V logic collapsed: from ", "+5 V logic came back", "Heard, latch reset",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("it does not say %q", want)
		}
	}
	if strings.Count(out, "Convicted: ") != 1 || strings.Count(out, "Acquitted: ") != 1 {
		t.Error("one part is convicted and one acquitted, or the lift proves nothing")
	}
	where := reportLine.FindStringSubmatch(out)
	if where == nil {
		t.Fatalf("no report:\n%s", out)
	}
	page, err := os.ReadFile(filepath.Join(dir, where[1]))
	if err != nil || !strings.Contains(string(page), "Alderbrook 88") || !strings.Contains(string(page), "</html>") {
		t.Errorf("report of %d bytes, %v", len(page), err)
	}
	for _, c := range [][]string{{"verify", "AB-0147"}, {"replay", "AB-0147"}, {"export", "AB-0147", "--out", "readings.csv"}, {"job", "show", "AB-0147"}} {
		if code, o, e := program(t, dir, append(c, "--workspace", "record")...); code != 0 {
			t.Errorf("%s: exit %d\n%s%s", c, code, o, e)
		}
	}
	_, list, _ := program(t, dir, "replay", "AB-0147", "--json", "--workspace", "record")
	var transitions []struct{ Kind, Rail string }
	if err := json.Unmarshal([]byte(list), &transitions); err != nil || len(transitions) < 4 {
		t.Errorf("replay gives %v, %v", transitions, err)
	}
	powered(t, filepath.Join(dir, "record", "jobs", "AB-0147.steadyrail"))
	if seed == "1" {
		sameElsewhere(t, dir, "AB-0147", list)
	}
	if t.Failed() {
		t.Logf("%s%s", out, errs)
	}
	return figure.FindAllString(out, -1)
}

// A busy port ends the demo before the story begins, with what to do.
func TestDemoOnBusyPort(t *testing.T) {
	t.Parallel()
	ln, err := new(net.ListenConfig).Listen(context.Background(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	code, out, errs := program(t, t.TempDir(), "demo", "--for", "20s", "--listen", ln.Addr().String(), "--workspace", "record")
	if code != 3 || out != "" {
		t.Errorf("exit %d, it says %q", code, out)
	}
	for _, want := range []string{ln.Addr().String(), "in use", "--listen 127.0.0.1:0"} {
		if !strings.Contains(errs, want) {
			t.Errorf("%q does not say %q", errs, want)
		}
	}
}
