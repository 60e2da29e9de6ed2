package cli_test

import (
	"context"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/drivers/sim"
)

// Killed between a trip's order and its confirmation, the daemon claims nothing
// at its next start: the record says that nothing confirmed it, the protection
// is in doubt until it was read back, the alarm that is still there does not trip
// again, and nothing is switched.
func TestKilledInATrip(t *testing.T) {
	slow(t)
	t.Parallel()
	dir := t.TempDir()
	bench := tripping(t, dir)
	tellSupply(t, bench, "OUTP ON") // whatever of the order came through: as if nothing had
	d := launch(t, dir)
	d.killWhen(t, func() bool { return slices.Contains(outputs(t, dir), "read back trip, armed") })
	d = launch(t, dir)
	d.killWhen(t, func() bool { // once more, with the alarm there and the trip armed for some readings
		if strings.Count(strings.Join(outputs(t, dir), "\n"), "read back trip, armed") < 2 {
			return false
		}
		d.measures(t)
		d.measures(t)
		return true
	})
	want := []string{"limits, armed", capture.SwitchingOff + " trip, armed", capture.NotConfirmed + " trip, in doubt", "read back trip, armed", "read back trip, armed"}
	if got := outputs(t, dir); !slices.Equal(got, want) {
		t.Errorf("acts on the output: %q, want %q", got, want)
	}
	if v, err := bench.Truth("supply on"); err != nil || v != 1 {
		t.Errorf("a start switched it: %g, %v", v, err)
	}
	code, out, errs := program(t, dir, "replay", "AB-0147", "--workspace", "bench")
	if code != 0 || !strings.Contains(out, "NOT confirmed off") {
		t.Errorf("replay: exit %d, want the alarm of the trip\n%s%s", code, out, errs)
	}
}

// tripping starts a daemon, has an alarm trip a supply that holds its answer
// back, and kills it before it gives up.
func tripping(t *testing.T, dir string) *sim.Bench {
	t.Helper()
	bench, config, err := newSupplyBench()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(bench.Close)
	// Nothing but acts is asked of the supply, so that its silence is the trip's to meet.
	config = strings.Replace(config, "every: 500 ms", "every: 1 h", 1)
	if err := os.WriteFile(filepath.Join(dir, "bench.yaml"), []byte(config), 0o600); err != nil {
		t.Fatal(err)
	}
	tellSupply(t, bench, "VOLT 24;CURR 2;OUTP ON") // it serves one at a time: before the daemon
	d := launch(t, dir)
	for _, args := range [][]string{
		{"job", "open", "AB-0147", "--rails", "+12 5%"},
		{"limits", "supply", "--volts", "24", "--amps", "2", "--ovp", "26", "--ocp", "3"},
		{"place", "dmm2/volts", "+12 V", "--clipped"}, {"job", "stage", "soak", "--why", "to be killed in a trip"},
	} {
		insist(t, dir, append(args, "--workspace", "bench")...)
	}
	d.steady(t)
	for range 3 { // in its band while the rule watches
		d.measures(t)
	}
	fault(t, bench, "late", sim.Supply, "1h", "1000")
	if err := bench.Touch(sim.DMM2, sim.Point3, capture.Clipped); err != nil { // the clip slides to where less is
		t.Fatal(err)
	}
	d.killWhen(t, func() bool { return slices.Contains(outputs(t, dir), capture.SwitchingOff+" trip, armed") })
	if strings.Contains(strings.Join(outputs(t, dir), "\n"), capture.NotConfirmed) {
		t.Fatal("it had given up before the kill")
	}
	fault(t, bench, "link down", sim.Supply) // what is late is lost with it
	fault(t, bench, "late", sim.Supply, "1ms", "1")
	fault(t, bench, "link up", sim.Supply)
	return bench
}

func fault(t *testing.T, b *sim.Bench, name string, words ...string) {
	t.Helper()
	if err := b.Fault(name, words...); err != nil {
		t.Fatal(err)
	}
}

// steady waits until +12 V was in its band for some readings with its trip armed.
func (d *daemon) steady(t *testing.T) {
	t.Helper()
	c := http.Client{Timeout: patience}
	defer c.CloseIdleConnections()
	for end := time.Now().Add(patience); ; time.Sleep(20 * time.Millisecond) { // another process has no channel to wait on
		resp, err := c.Get(d.base + "/api/v1/rails")
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(resp.Body)
		if resp.Body.Close(); err != nil {
			t.Fatal(err)
		}
		if has := func(s string) bool { return strings.Contains(string(b), s) }; has(`"say":"Trip armed through supply"`) && has(`"kind":"band","outcome":"pass"`) {
			return
		}
		if time.Now().After(end) {
			t.Fatalf("it never came to this: +12 V in its band, its trip armed\n%s", b)
		}
	}
}

// outputs lists what the record says of the supply's output and limits, each with
// whether a trip through it could be relied on after that.
func outputs(t *testing.T, dir string) (out []string) {
	t.Helper()
	ctx := context.Background()
	f, err := store.OpenFile(filepath.Join(dir, "bench", "jobs", "AB-0147"+store.Extension))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close(ctx)
	var guard capture.Protections
	err = f.Records(ctx, 0, 0, func(rec capture.Record) error {
		guard.Consume(rec)
		state := ", in doubt"
		if guard.Of(sim.Supply).Armed() {
			state = ", armed"
		}
		a, _ := rec.Item.(capture.Act)
		switch a.Verb {
		case capture.ActOutput:
			out = append(out, strings.TrimSpace(a.Text+" "+a.By)+state)
		case capture.ActLimits:
			out = append(out, "limits"+state)
		case capture.ActReadBack:
			out = append(out, "read back "+a.By+state)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
