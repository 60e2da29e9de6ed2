package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	gosync "sync"
	"sync/atomic"
	"testing"
	"time"

	"steadyrail/capture"
)

// troubles collects what the owner is told.
type troubles struct {
	mu   gosync.Mutex
	list []Trouble
	ch   chan Trouble
}

func newTroubles() *troubles { return &troubles{ch: make(chan Trouble, 1000)} }

func (s *troubles) tell(t Trouble) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.list = append(s.list, t)
	s.ch <- t
}

// next waits for the next thing told that is trouble, or its end.
func (s *troubles) next(t *testing.T, trouble bool) Trouble {
	t.Helper()
	limit := time.After(20 * time.Second)
	for {
		select {
		case got := <-s.ch:
			if (got.Err != nil) == trouble {
				return got
			}
		case <-limit:
			t.Fatal("nobody was told")
		}
	}
}

// A full disk, met for real: SQLite's own page limit. Nothing is lost, the
// owner is told, and writing goes on by itself when there is room.
func TestFullDiskBuffersAndResumes(t *testing.T) {
	told := newTroubles()
	j := create(t, workspace(t, Options{CommitEvery: 20 * time.Millisecond, OnTrouble: told.tell}), "AB-0147")
	var pages int
	if err := j.w.db.QueryRow("PRAGMA page_count").Scan(&pages); err != nil {
		t.Fatal(err)
	}
	limit := func(n int) {
		t.Helper()
		if _, err := j.w.db.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", n)); err != nil {
			t.Fatal(err)
		}
	}
	limit(pages + 10)
	var want []capture.Record
	add := func(n int) {
		for range n {
			want = append(want, volts(t0+capture.Instant(len(want)*1000), "dmm/volts", float64(len(want))))
			j.Consume(want[len(want)-1])
		}
	}
	for j.Stats().Problem == "" {
		add(500)
		_ = j.Sync(ctx)
	}
	if got := told.next(t, true); !got.DiskFull || got.Queued == 0 || got.Job != "AB-0147" {
		t.Errorf("told %+v, want a full disk", got)
	}
	add(500)
	if err := j.Sync(ctx); !hasCode(err, codeFull) {
		t.Errorf("Sync on a full disk: %v", err)
	}
	if s := j.Stats(); s.Errors == 0 || s.Queued < 500 || s.Dropped != 0 {
		t.Errorf("stats %+v", s)
	}
	verify(t, j) // what is there is whole
	limit(1 << 30)
	told.next(t, false) // it goes on by itself: the ticker tries again
	settle(t, j)
	wantSame(t, all(t, j, 0, 0), want)
	verify(t, j)
	if s := j.Stats(); s.Problem != "" || s.Queued != 0 {
		t.Errorf("stats afterwards %+v", s)
	}
}

// When the disk stays away for too long, whole seconds are dropped and the
// record says so.
func TestLongTroubleIsAGapInTheRecord(t *testing.T) {
	told := newTroubles()
	j := create(t, workspace(t, Options{CommitEvery: time.Hour, QueueLimit: 100, OnTrouble: told.tell}), "AB-0147")
	var broken atomic.Bool
	broken.Store(true)
	j.w.begin = func() error {
		if broken.Load() {
			return errors.New("input/output error")
		}
		return nil
	}
	j.Consume(volts(t0, "dmm/volts", 5))
	if err := j.Sync(ctx); err == nil || !strings.Contains(err.Error(), "input/output error") {
		t.Errorf("Sync: %v", err)
	}
	told.next(t, true)
	for i := 1; i < 1000; i++ {
		j.Consume(volts(t0+capture.Instant(i)*100_000, "dmm/volts", 5))
	}
	if err := j.Sync(ctx); err == nil {
		t.Error("Sync: no error")
	}
	if got := told.next(t, true); got.Dropped == 0 || got.Queued < 100 {
		t.Errorf("told %+v, want dropped readings", got)
	}
	broken.Store(false)
	settle(t, j)
	told.next(t, false)
	got := all(t, j, 0, 0)
	gap, ok := got[len(got)-1].Item.(capture.Gap)
	if s := j.Stats(); !ok || uint64(gap.Dropped) != s.Dropped || len(got)-1+gap.Dropped != 1000 {
		t.Errorf("%d records, the last %+v, stats %+v", len(got), got[len(got)-1], s)
	}
	if gap.Reason != "the disk refused: input/output error" || gap.To != t0+999*100_000 || gap.From%second != t0%second {
		t.Errorf("gap %+v", gap)
	}
	verify(t, j)
}

func TestCloseSaysWhatIsLost(t *testing.T) {
	w, err := OpenWorkspace(t.TempDir(), quick)
	if err != nil {
		t.Fatal(err)
	}
	j := create(t, w, "AB-0147")
	j.w.begin = func() error { return errors.New("no") }
	j.Consume(volts(t0, "dmm/volts", 5))
	if err := j.Close(ctx); err == nil || !strings.Contains(err.Error(), "1 records of job AB-0147 could not be written and are lost") {
		t.Errorf("Close: %v", err)
	}
	if err := w.Close(); err != nil {
		t.Errorf("workspace: %v", err)
	}
}

// A small file system of its own fills up for real and is emptied again. It
// needs the right to mount one.
func TestFullFileSystem(t *testing.T) {
	dir := t.TempDir()
	if err := mountSmall(dir); err != nil {
		t.Skipf("no small file system on %s: %v", runtime.GOOS, err)
	}
	t.Cleanup(func() { _ = unmount(dir) })
	told := newTroubles()
	w, err := OpenWorkspace(dir, Options{CommitEvery: 20 * time.Millisecond, OnTrouble: told.tell})
	if err != nil {
		t.Fatal(err)
	}
	j := create(t, w, "AB-0147")
	ballast := filepath.Join(dir, "ballast")
	fillUp(t, ballast)
	var want []capture.Record
	for j.Stats().Problem == "" && len(want) < 200_000 {
		for range 500 {
			want = append(want, volts(t0+capture.Instant(len(want)*1000), "dmm/volts", float64(len(want))))
			j.Consume(want[len(want)-1])
		}
		_ = j.Sync(ctx)
	}
	if got := told.next(t, true); got.Err == nil {
		t.Errorf("told %+v", got)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	told.next(t, false)
	settle(t, j)
	wantSame(t, all(t, j, 0, 0), want)
	verify(t, j)
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// fillUp leaves little room.
func fillUp(t *testing.T, path string) {
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for block := make([]byte, 64<<10); ; {
		if _, err := f.Write(block); err != nil {
			break
		}
	}
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Truncate(info.Size() - 256<<10); err != nil {
		t.Fatal(err)
	}
}
