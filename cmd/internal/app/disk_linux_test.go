package app_test

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/sys/unix"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/configs"
	"steadyrail/drivers/sim"
)

// tinyDisk mounts a file system of three megabytes.
func tinyDisk(t *testing.T) string {
	t.Helper()
	if os.Geteuid() != 0 {
		t.Skip("SKIPPED: a full disk can only be made by root; run as root to have this checked")
	}
	dir := t.TempDir()
	if err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size=3m"); err != nil {
		if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
			t.Fatalf("mount a small file system: %v", err)
		}
		t.Skipf("SKIPPED: mount a small file system: %v", err)
	}
	t.Cleanup(func() {
		if err := unix.Unmount(dir, unix.MNT_DETACH); err != nil {
			t.Errorf("unmount %s: %v", dir, err)
		}
	})
	return dir
}

// fill writes a file until nothing more goes on the disk.
func fill(t *testing.T, path string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for size := 1 << 16; size > 0; {
		if _, err := f.Write(make([]byte, size)); err != nil {
			size /= 2
		}
	}
}

// While the disk is full, measuring, judging and telling go on and everybody
// can see that nothing is written. With room again all of it is, whole.
func TestDiskFull(t *testing.T) {
	t.Parallel()
	dir := tinyDisk(t)
	url, got := receiver(t)
	r := newRig(t, 5, func(c *configs.Config) {
		c.Workspace = filepath.Join(dir, "bench")
		c.Notify = append(c.Notify, hook(url))
	})
	r.soak()
	if code, body := r.ask(http.MethodGet, "/readyz", ""); code != 200 {
		t.Fatalf("readyz: %d %s", code, body)
	}
	filler := filepath.Join(dir, "filler")
	fill(t, filler)
	r.until("the disk is known to be full", func(live.Snapshot) bool {
		if code, body := r.ask(http.MethodGet, "/readyz", ""); code != 503 || !strings.Contains(body, jobID) || !strings.Contains(body, "full") {
			fill(t, filler) // whatever was left over meanwhile
			return false
		}
		return true
	})
	if v := r.metric("steadyrail_store_write_errors_total", jobID); v == "" || v == "0" {
		t.Errorf("store_write_errors_total %q", v)
	}
	before := r.ordinal(volts(sim.DMM))
	r.until("measuring goes on", func(live.Snapshot) bool { return r.ordinal(volts(sim.DMM)) > before+20 })
	if v := r.metric("steadyrail_store_queue_readings", jobID); v == "" || v == "0" {
		t.Errorf("store_queue_readings %q", v)
	}
	r.fault("input joint", "5s")
	next(t, got, "collapse", "active")

	r.must(os.Remove(filler))
	r.until("the record is written again", func(live.Snapshot) bool {
		code, _ := r.ask(http.MethodGet, "/readyz", "")
		return code == 200
	})
	if v := r.metric("steadyrail_store_dropped_readings_total", jobID); v != "0" {
		t.Errorf("store_dropped_readings_total %q", v)
	}
	r.stop()
	ordinals := map[capture.ChannelID]uint64{}
	rec := r.read(jobID)
	for _, one := range rec.records {
		if v, ok := one.Item.(capture.Reading); ok {
			if v.Ordinal != ordinals[v.Channel]+1 {
				t.Fatalf("%s: ordinal %d follows on %d", v.Channel, v.Ordinal, ordinals[v.Channel])
			}
			ordinals[v.Channel] = v.Ordinal
		}
	}
	if filed := r.seen.filed(jobID); len(filed) != total(ordinals) {
		t.Errorf("%d readings were filed, %d are kept", len(filed), total(ordinals))
	}
}

func total(counts map[capture.ChannelID]uint64) (n int) {
	for _, k := range counts {
		n += int(k)
	}
	return n
}

// What is given up with a job on a full disk is said once, and does not keep
// the bench from being ready for the next job.
func TestCloseOnFullDisk(t *testing.T) {
	t.Parallel()
	dir := tinyDisk(t)
	r := newRig(t, 5, func(c *configs.Config) { c.Workspace = filepath.Join(dir, "bench") })
	r.open(jobID)
	r.pass(5e9)
	fill(t, filepath.Join(dir, "filler"))
	r.until("the disk is known to be full", func(live.Snapshot) bool {
		code, _ := r.ask(http.MethodGet, "/readyz", "")
		if code != 503 {
			fill(t, filepath.Join(dir, "filler"))
		}
		return code == 503
	})
	_, err := r.Act(t.Context(), "", capture.Act{Verb: capture.ActClose})
	if err == nil || !strings.Contains(err.Error(), "could not be written") {
		t.Errorf("closing on a full disk: %v", err)
	}
	r.must(os.Remove(filepath.Join(dir, "filler")))
	r.open("AB-0148")
	if code, body := r.ask(http.MethodGet, "/readyz", ""); code != 200 {
		t.Errorf("readyz: %d %s", code, body)
	}
}
