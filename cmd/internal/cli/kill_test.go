package cli_test

import (
	"bufio"
	"context"
	"encoding/json"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// Killed with no warning at random moments, while it measures for a job, the
// daemon comes back by itself each time: the workspace opens, the time away is
// a gap, what was measured is there up to at most the last second, the chain
// holds, and replay agrees.
func TestKillNine(t *testing.T) {
	slow(t)
	t.Parallel()
	dir := t.TempDir()
	bench, config, err := newBench("./bench")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(bench.Close)
	if err := os.WriteFile(filepath.Join(dir, "bench.yaml"), []byte(config), 0o600); err != nil {
		t.Fatal(err)
	}
	must := func(args ...string) {
		t.Helper()
		if code, out, errs := program(t, dir, append(args, "--workspace", "bench")...); code != 0 {
			t.Fatalf("%s: exit %d\n%s%s", args, code, out, errs)
		}
	}
	const kills = 4
	for n := range kills {
		d := launch(t, dir)
		if n == 0 {
			must("job", "open", "AB-0147", "--rails", "+5 2% logic, +12 5% audio")
			must("place", "dmm/volts", "+5 V logic", "--clipped")
			must("place", "dmm2/volts", "+12 V audio", "--clipped")
			must("job", "stage", "soak", "--why", "to be killed in")
		}
		d.measures(t)
		time.Sleep(time.Duration(rand.IntN(2500)) * time.Millisecond) // the moment is the test
		d.calm(t)
		last := d.newest(t)
		d.kill(t)
		after(t, dir, n, last)
	}
	d := launch(t, dir)
	d.measures(t)
	must("job", "note", "it came back")
	must("job", "close", "AB-0147")
	d.kill(t)
	must("verify", "AB-0147")
	must("replay", "AB-0147")
	if gaps, _ := look(t, dir); gaps != kills {
		t.Errorf("%d gaps after %d kills", gaps, kills)
	}
}

// calm waits until the daemon itself says that nearly nothing waits for its
// commit. While tests of other packages let the disk stand still for many seconds,
// nothing could be kept, and it says so.
func (d *daemon) calm(t *testing.T) {
	t.Helper()
	waiting := regexp.MustCompile(`(?m)^steadyrail_store_queue_readings\{.*\} (\S+)$`)
	for end := time.Now().Add(patience); ; time.Sleep(20 * time.Millisecond) {
		m := waiting.FindSubmatch(d.get(t, "/metrics"))
		if m == nil {
			t.Fatal("the metrics do not say what waits for its commit")
		}
		if n, err := strconv.ParseFloat(string(m[1]), 64); err != nil {
			t.Fatal(err)
		} else if n < 40 { // a second of the two meters in the job
			return
		} else if time.Now().After(end) {
			t.Fatalf("%g readings wait for the disk", n)
		}
	}
}

// after checks what the n-th kill left, when last was the newest reading that
// the daemon had shown.
func after(t *testing.T, dir string, n int, last capture.Instant) {
	t.Helper()
	gaps, newest := look(t, dir)
	if gaps != n {
		t.Errorf("%d gaps before the restart after kill %d", gaps, n+1)
	}
	// A commit is begun every second and takes a moment, and more of it when the
	// disk began to stand still since.
	if lost := last.Sub(newest); lost > 5*time.Second {
		t.Errorf("kill %d: shown up to %s, kept up to %s: %s are lost", n+1, last, newest, lost)
	}
	for _, c := range []string{"verify", "replay"} {
		if code, out, errs := program(t, dir, c, "AB-0147", "--workspace", "bench"); code != 0 {
			t.Errorf("%s after kill %d: exit %d\n%s%s", c, n+1, code, out, errs)
		}
	}
}

// look reads the job's file: how many gaps it has, and its newest reading.
func look(t *testing.T, dir string) (gaps int, newest capture.Instant) {
	t.Helper()
	ctx := context.Background()
	f, err := store.OpenFile(filepath.Join(dir, "bench", "jobs", "AB-0147"+store.Extension))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close(ctx)
	err = f.Records(ctx, 0, 0, func(rec capture.Record) error {
		switch rec.Item.(type) {
		case capture.Gap:
			gaps++
		case capture.Reading:
			newest = rec.At
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return gaps, newest
}

// daemon is a running "steadyrail run".
type daemon struct {
	cmd  *exec.Cmd
	base string
	said chan string // what it wrote, when it has ended
}

// launch starts the daemon of dir/bench.yaml and waits until it listens.
func launch(t *testing.T, dir string) *daemon {
	t.Helper()
	cmd := exec.Command("steadyrail", "run", "--config", "bench.yaml")
	cmd.Dir = dir
	errs, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	d := &daemon{cmd: cmd, said: make(chan string, 1)}
	t.Cleanup(func() { _ = cmd.Process.Kill() }) // it has ended already, unless the test failed
	go func() {
		var text string
		for lines := bufio.NewScanner(errs); lines.Scan(); {
			text += lines.Text() + "\n"
		}
		d.said <- text
	}()
	if err := await(filepath.Join(dir, "bench"), true); err != nil {
		_ = cmd.Process.Kill()
		t.Fatalf("%v\n%s", err, <-d.said)
	}
	h, err := store.ReadLock(filepath.Join(dir, "bench"))
	if err != nil {
		t.Fatal(err)
	}
	d.base = "http://" + h.Address
	return d
}

// newest returns when the newest reading of +5 V was answered; 0: there is
// none yet.
func (d *daemon) newest(t *testing.T) capture.Instant {
	t.Helper()
	b := d.get(t, "/api/v1/rails")
	var answer struct {
		Rails []struct {
			Volts *struct {
				At capture.Instant `json:"at"`
			} `json:"volts"`
		} `json:"rails"`
	}
	if err := json.Unmarshal(b, &answer); err != nil {
		t.Fatalf("%v: %s", err, b)
	}
	if len(answer.Rails) == 0 || answer.Rails[0].Volts == nil {
		return 0
	}
	return answer.Rails[0].Volts.At
}

// get reads a page of the daemon.
func (d *daemon) get(t *testing.T, path string) []byte {
	t.Helper()
	c := http.Client{Timeout: patience}
	defer c.CloseIdleConnections()
	resp, err := c.Get(d.base + path)
	if err != nil {
		_ = d.cmd.Process.Kill()
		t.Fatalf("%v\n%s", err, <-d.said)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// measures waits until +5 V is read.
func (d *daemon) measures(t *testing.T) {
	t.Helper()
	begun := d.newest(t)
	for end := time.Now().Add(patience); d.newest(t) == begun; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("nothing is read")
		}
	}
}

func (d *daemon) kill(t *testing.T) {
	t.Helper()
	if err := d.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	text := <-d.said
	if err := d.cmd.Wait(); err == nil || err.Error() != "signal: killed" {
		t.Fatalf("it ended with %v\n%s", err, text)
	}
}
