package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

func TestSecondDaemonIsRefusedAndToldByWhom(t *testing.T) {
	dir := t.TempDir()
	if _, err := ReadLock(dir); !errors.Is(err, ErrNoDaemon) {
		t.Errorf("before: %v", err)
	}
	w, err := OpenWorkspace(dir, Options{Started: t0})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.SetAddress("127.0.0.1:8470"); err != nil {
		t.Fatal(err)
	}
	_, err = OpenWorkspace(dir, Options{})
	var held *HeldError
	if !errors.As(err, &held) || !errors.Is(err, ErrHeld) || held.PID != os.Getpid() || held.Address != "127.0.0.1:8470" {
		t.Errorf("second daemon: %v", err)
	}
	h, err := ReadLock(dir)
	if err != nil || h.Token != w.Token() || len(h.Token) != 32 || h.Address != "127.0.0.1:8470" || h.Started != t0 {
		t.Errorf("command reads %+v, %v", h, err)
	}
	if err := w.SetAddress("[::1]:1"); err != nil { // shorter
		t.Fatal(err)
	}
	if h, err := ReadLock(dir); err != nil || h.Address != "[::1]:1" {
		t.Errorf("command reads %+v, %v", h, err)
	}
	if runtime.GOOS != "windows" {
		for path, want := range map[string]os.FileMode{"daemon.json": 0o600, "jobs": 0o700, "bench.sqlite": 0o600} {
			info, err := os.Stat(filepath.Join(dir, path))
			if err != nil || info.Mode().Perm() != want {
				t.Errorf("%s: %v %v, want %v", path, info.Mode(), err, want)
			}
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Errorf("closing twice: %v", err)
	}
	if _, err := ReadLock(dir); !errors.Is(err, ErrNoDaemon) {
		t.Errorf("after: %v", err)
	}
	if err := w.SetAddress("x"); !errors.Is(err, ErrClosed) {
		t.Errorf("SetAddress after Close: %v", err)
	}
	again, err := OpenWorkspace(dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	again.Close()
}

// What a dead daemon left behind holds nobody up.
func TestDeadHolder(t *testing.T) {
	dir := t.TempDir()
	text := `{"pid": 1, "address": "127.0.0.1:8470", "token": "old", "started": 1}`
	if err := os.WriteFile(filepath.Join(dir, "daemon.json"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := ReadLock(dir); !errors.Is(err, ErrNoDaemon) {
		t.Errorf("ReadLock: %v", err)
	}
	w, err := OpenWorkspace(dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	if info, err := os.Stat(filepath.Join(dir, "daemon.json")); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("the old file's mode stayed: %v %v", info.Mode(), err)
	}
}

func TestNetworkFileSystemsAreNamed(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("by magic numbers on Linux only")
	}
	if what := networkFileSystem(t.TempDir()); what != "" {
		t.Errorf("the temporary folder lies on %s", what)
	}
}

func TestJobNamesThatCannotBeFiles(t *testing.T) {
	w := workspace(t, quick)
	for _, id := range []string{"", "../x", "a/b", "NUL", strings.Repeat("x", 65)} {
		if _, err := w.Create(capture.Sheet{Job: id}); !errors.Is(err, capture.ErrJobID) {
			t.Errorf("create %q: %v", id, err)
		}
		if _, err := w.Open(id, t0); !errors.Is(err, capture.ErrJobID) {
			t.Errorf("open %q: %v", id, err)
		}
	}
	create(t, w, "AB-0147")
	for _, id := range []string{"AB-0147", "ab-0147"} {
		if _, err := w.Create(capture.Sheet{Job: id}); !errors.Is(err, ErrExists) {
			t.Errorf("create %s again: %v", id, err)
		}
	}
	if _, err := w.Open("AB-0147", t0); err == nil {
		t.Error("opened twice")
	}
	if _, err := w.Open("AB-0148", t0); !errors.Is(err, ErrNoJob) {
		t.Errorf("open what is not there: %v", err)
	}
}

func TestResume(t *testing.T) {
	dir := t.TempDir()
	day := func(f func(w *Workspace)) {
		t.Helper()
		w, err := OpenWorkspace(dir, quick)
		if err != nil {
			t.Fatal(err)
		}
		f(w)
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
	}
	gap := func(j *Job) capture.Gap {
		rec, _ := j.Gap()
		g, _ := rec.Item.(capture.Gap)
		return g
	}
	day(func(w *Workspace) {
		j := create(t, w, "AB-0147")
		if _, ok := j.Gap(); ok {
			t.Error("a new job has a gap")
		}
		j.Consume(act(t0, capture.ActOpen))
		j.Consume(volts(t0+1, "dmm/volts", 5))
		j.Consume(capture.Record{At: t0 + 700_000, Job: "", Item: capture.Tick{}})
	})
	var head capture.Head
	day(func(w *Workspace) { // an hour later
		j, err := w.Open("AB-0147", t0+3600*second)
		if err != nil {
			t.Fatal(err)
		}
		want := capture.Gap{From: t0 + 700_000, To: t0 + 3600*second, Reason: "not running"}
		if gap(j) != want {
			t.Errorf("gap %+v, want %+v", gap(j), want)
		}
		if recs := all(t, j, 0, 0); len(recs) != 3 || recs[2].Item != capture.Item(want) || recs[2].At != t0+3600*second {
			t.Errorf("records %+v", recs)
		}
		j.Consume(volts(t0+3600*second+1, "dmm/volts", 6))
		settle(t, j)
		if series, err := j.Series(ctx, []capture.Span{{Channel: "dmm/volts", From: t0}}, capture.DCVoltage, 0, 0, 1); err != nil || series[0].N != 2 {
			t.Errorf("series over the gap: %+v %v", series, err)
		}
		verify(t, j)
	})
	day(func(w *Workspace) { // the clock was set back
		j, err := w.Open("AB-0147", t0)
		if err != nil {
			t.Fatal(err)
		}
		if g := gap(j); !strings.Contains(g.Reason, "clock was set back") || g.From != t0+3600*second+1 || g.To <= g.From {
			t.Errorf("gap %+v", g)
		}
		upto, err := j.Upto(ctx)
		if err != nil || upto < t0+3600*second {
			t.Errorf("upto %v %v", upto, err)
		}
		j.Consume(act(upto+5, capture.ActClose))
		settle(t, j)
		head = verify(t, j)
	})
	day(func(w *Workspace) { // a closed job is not watched: no gap
		j, err := w.Open("AB-0147", t0+9999*second)
		if err != nil {
			t.Fatal(err)
		}
		if _, ok := j.Gap(); ok {
			t.Error("a closed job has a gap")
		}
		if now, err := j.Head(ctx); err != nil || now != head {
			t.Errorf("head %+v %v, was %+v", now, err, head)
		}
		j.Consume(act(t0+9999*second, capture.ActOpen)) // a note a year later
		settle(t, j)
		if now := verify(t, j); now.Hash == head.Hash || now.Count != head.Count+1 {
			t.Errorf("head %+v, was %+v", now, head)
		}
		if found, err := j.Heads(ctx, head.Hash); err != nil || found.Known[head.Hash].Head != head {
			t.Errorf("the old head: %+v %v", found, err)
		}
		if found, err := j.Heads(ctx, strings.Repeat("ab", 32)); len(found.Known) != 0 || err != nil {
			t.Errorf("a head from elsewhere: %+v %v", found, err)
		}
		if _, err := j.Heads(ctx, "3f2a"); err == nil {
			t.Error("a cut head: no error")
		}
	})
}

// With nothing to write, the file is told now and then that the daemon runs.
func TestSignOfLife(t *testing.T) {
	w := workspace(t, Options{CommitEvery: time.Millisecond})
	j := create(t, w, "AB-0147")
	j.Consume(act(t0, capture.ActOpen))
	settle(t, j)
	j.Consume(capture.Record{At: t0 + 60*second, Item: capture.Tick{}})
	limit := time.After(20 * time.Second)
	for {
		if upto, err := j.Upto(ctx); err != nil {
			t.Fatal(err)
		} else if upto == t0+60*second {
			break
		}
		select {
		case <-limit:
			t.Fatal("no sign of life")
		case <-time.After(5 * time.Millisecond):
		}
	}
	j.Consume(volts(t0+61*second, "dmm/volts", 5)) // goes on
	settle(t, j)
	verify(t, j)
}

func TestBenchIndex(t *testing.T) {
	dir := t.TempDir()
	w, err := OpenWorkspace(dir, quick)
	if err != nil {
		t.Fatal(err)
	}
	for i, id := range []string{"AB-0147", "AB-0148"} {
		j := create(t, w, id)
		at := t0 + capture.Instant(i)
		j.Consume(capture.Record{At: at, Job: id, Item: capture.Sheet{Job: id, Set: "Alderbrook 88", Board: "PSU-2", SerialNumber: "0042", Symptom: "dead"}})
		j.Consume(capture.Record{At: at, Job: id, Item: capture.Act{Verb: capture.ActOpen}})
		settle(t, j)
	}
	j := w.open["AB-0147"]
	j.Consume(act(t0+9, capture.ActClose))
	settle(t, j)
	want := []Summary{
		{Job: "AB-0148", Set: "Alderbrook 88", Board: "PSU-2", SerialNumber: "0042", Symptom: "dead", Opened: t0 + 1},
		{Job: "AB-0147", Set: "Alderbrook 88", Board: "PSU-2", SerialNumber: "0042", Symptom: "dead", Opened: t0, Closed: t0 + 9},
	}
	for i := range want {
		want[i].Path, _ = w.Path(want[i].Job)
	}
	look := func(when string, want ...Summary) {
		t.Helper()
		got, err := w.Jobs(ctx)
		if err != nil || len(got) != len(want) {
			t.Fatalf("%s: %+v %v", when, got, err)
		}
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("%s: got %+v, want %+v", when, got[i], want[i])
			}
		}
	}
	again := func(damage func(index string)) {
		t.Helper()
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		damage(filepath.Join(dir, "bench.sqlite"))
		if w, err = OpenWorkspace(dir, quick); err != nil {
			t.Fatal(err)
		}
	}
	look("while open", want...)
	again(func(index string) { os.Remove(index) })
	look("lost", want...)
	again(func(index string) { os.WriteFile(index, []byte(strings.Repeat("ruined ", 2000)), 0o600) })
	look("ruined", want...)
	again(func(string) { os.Remove(want[1].Path) })
	look("a job carried away", want[0])
	again(func(string) { os.WriteFile(want[1].Path, []byte("ruined"), 0o600) })
	look("a ruined job is not forgotten", want[0], Summary{Job: "AB-0147", Path: want[1].Path})
	w.Close()
}

// An older file is copied whole, then changed; a step that fails leaves it as
// it was.
func TestMigration(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old"+Extension)
	if err := createFile(ctx, path, "old", ""); err != nil {
		t.Fatal(err)
	}
	db, err := openWriter(ctx, path, jobKind)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	next := jobKind
	now := len(next.steps)
	next.steps = append(next.steps[:now:now], "CREATE TABLE fresh (x TEXT) STRICT", "CREATE TABLE broken (")
	copies := 0
	copyTo := func(format int) string { copies = format; return path + ".copy" }
	if err := next.migrate(ctx, db, copyTo); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("from format %d to %d", now+1, now+2)) {
		t.Errorf("migrate: %v", err)
	}
	if have, err := next.format(ctx, db); err != nil || have != now+1 || copies != now {
		t.Errorf("format %d %v, copy of format %d", have, err, copies)
	}
	old, err := OpenFile(path + ".copy")
	if err != nil {
		t.Fatal(err)
	}
	old.Close(ctx)
	if _, err := jobKind.format(ctx, db); !errors.Is(err, ErrNewer) {
		t.Errorf("an older program: %v", err)
	}
	if err := benchKind.migrate(ctx, db, nil); !errors.Is(err, ErrNotOurs) {
		t.Errorf("another kind of file: %v", err)
	}
}

func TestFileUnderAnotherName(t *testing.T) {
	w := workspace(t, quick)
	j := create(t, w, "AB-0147")
	closeJob(t, j)
	if err := os.Rename(j.Path(), filepath.Join(w.jobs(), "AB-0200"+Extension)); err != nil {
		t.Fatal(err)
	}
	if _, err := w.Open("AB-0200", t0); err == nil || !strings.Contains(err.Error(), "holds job AB-0147") {
		t.Errorf("open: %v", err)
	}
}
