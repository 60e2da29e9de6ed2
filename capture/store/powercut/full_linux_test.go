package powercut

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// inMemory returns a fresh folder in memory, of a size such as "12m".
func inMemory(t *testing.T, size string) string {
	t.Helper()
	dir := t.TempDir()
	if err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size="+size); err != nil {
		if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" && os.Geteuid() == 0 {
			t.Fatalf("mount a small file system: %v", err)
		}
		t.Skipf("SKIPPED: mount a small file system (needs root): %v", err)
	}
	t.Cleanup(func() {
		if err := unix.Unmount(dir, unix.MNT_DETACH); err != nil {
			t.Errorf("unmount %s: %v", dir, err)
		}
	})
	return dir
}

// ballast takes all the room that is left.
func ballast(t *testing.T, path string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for size := 1 << 20; size > 0; {
		if _, err := f.Write(make([]byte, size)); err != nil {
			size /= 2
		}
	}
}

// The disk is full for ten minutes of 80 readings a second. The bench's own
// clock says so; for us it takes seconds. The owner is told, nothing is lost,
// what is on the disk can be read all the while, and with room again all of it
// is there.
func TestTenMinutesOfFullDisk(t *testing.T) {
	dir := inMemory(t, "48m")
	told := make(chan store.Trouble, 10_000)
	o := options
	o.OnTrouble = func(tr store.Trouble) { told <- tr }
	w, err := store.OpenWorkspace(filepath.Join(dir, "bench"), o)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	j, err := w.Create(capture.Sheet{Job: jobID})
	if err != nil {
		t.Fatal(err)
	}
	every := capture.Instant(30) // seconds between attempts, where a daemon makes one a second
	if os.Getenv("STEADYRAIL_DISKFULL") == "all" {
		every = 1
	}
	b := &bench{j: j, rng: rand.New(rand.NewPCG(8, 8))}
	for range 60 {
		b.second()
	}
	if err := j.Sync(ctx); err != nil {
		t.Fatal(err)
	}
	before := len(b.all)
	filler := filepath.Join(dir, "filler")
	ballast(t, filler)
	failed, minutes := 0, capture.Instant(10)
	if testing.Short() {
		minutes = 2
	}
	for s := range minutes * 60 {
		b.second()
		if s%every == every-1 {
			ballast(t, filler) // whatever was left over
			if err := j.Sync(ctx); err != nil {
				failed++
			}
		}
		if s%100 == 99 {
			if got, err := read(j); err != nil || len(got) < before {
				t.Fatalf("while the disk is full: %d of %d records, %v", len(got), before, err)
			}
		}
	}
	st := j.Stats()
	if failed == 0 || st.Dropped != 0 || st.Queued == 0 || st.Problem == "" {
		t.Fatalf("%d attempts failed, %+v", failed, st)
	}
	if tr := <-told; !tr.DiskFull || tr.Job != jobID || tr.Err == nil {
		t.Errorf("told %+v, want a full disk", tr)
	}
	if err := os.Remove(filler); err != nil {
		t.Fatal(err)
	}
	if err := j.Sync(ctx); err != nil {
		t.Fatalf("with room again: %v", err)
	}
	last := store.Trouble{}
	for len(told) > 0 {
		last = <-told
	}
	if last.Err != nil || last.Dropped != 0 {
		t.Errorf("told last %+v, want that it works again", last)
	}
	got, err := read(j)
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != len(b.all) {
		t.Errorf("%d records, %d were consumed", len(got), len(b.all))
	}
	if err := beginning(got, b.all); err != nil {
		t.Error(err)
	}
	t.Logf("%d records waited, %d attempts failed", st.Queued, failed)
}

// bench gives a job readings and keeps a copy.
type bench struct {
	j    *store.Job
	rng  *rand.Rand
	now  capture.Instant
	all  []capture.Record
	last [4]uint64
}

// second is one second of four channels with twenty readings each.
func (b *bench) second() {
	for k := range capture.Instant(rate) {
		c := int(k % 4)
		b.last[c]++
		rec := reading(b.rng, t0+b.now*second+k*second/rate, c, b.last[c])
		b.all = append(b.all, rec)
		b.j.Consume(rec)
	}
	b.now++
	b.j.Consume(capture.Record{At: t0 + b.now*second - 1, Item: capture.Tick{}})
}

// When nobody makes room for longer than memory lasts, whole seconds are lost,
// and the record says which and how many.
func TestFullDiskBeyondMemory(t *testing.T) {
	dir := inMemory(t, "24m")
	o := options
	o.QueueLimit = 40 * rate
	o.CommitEvery = time.Hour
	w, err := store.OpenWorkspace(filepath.Join(dir, "bench"), o)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	j, err := w.Create(capture.Sheet{Job: jobID})
	if err != nil {
		t.Fatal(err)
	}
	b := &bench{j: j, rng: rand.New(rand.NewPCG(9, 9))}
	filler := filepath.Join(dir, "filler")
	for s := range 300 {
		b.second()
		if s%10 == 9 {
			ballast(t, filler)
			_ = j.Sync(ctx)
		}
	}
	if err := os.Remove(filler); err != nil {
		t.Fatal(err)
	}
	if err := j.Sync(ctx); err != nil {
		t.Fatalf("with room again: %v", err)
	}
	for range 10 {
		b.second()
	}
	if err := j.Sync(ctx); err != nil {
		t.Fatal(err)
	}
	got, err := read(j)
	if err != nil {
		t.Fatal(err)
	}
	lost, at := 0, 0
	for _, r := range got {
		if gap, ok := r.Item.(capture.Gap); ok {
			for at < len(b.all) && b.all[at].At <= gap.To {
				at++
				lost++
			}
			if gap.Dropped != lost || !strings.Contains(gap.Reason, "disk full") {
				t.Errorf("%+v, but %d readings are missing", gap, lost)
			}
			lost = 0
			continue
		}
		if at >= len(b.all) || !same(r, b.all[at]) {
			t.Fatalf("record %d came back as %+v", at, r)
		}
		at++
	}
	if at != len(b.all) || j.Stats().Dropped == 0 {
		t.Errorf("%d of %d records are accounted for, %+v", at, len(b.all), j.Stats())
	}
}
