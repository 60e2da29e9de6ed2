package store

import (
	"bytes"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"steadyrail/capture"
)

// spoil changes a file behind the program's back.
func spoil(t *testing.T, path, statement string) {
	t.Helper()
	db, err := sql.Open("sqlite", dsn(path))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(statement); err != nil {
		t.Fatal(err)
	}
}

// closedJob makes a job with words that must be gone later.
func closedJob(t *testing.T, w *Workspace, id string) capture.Head {
	t.Helper()
	j := create(t, w, id)
	for i, item := range []capture.Item{
		capture.Sheet{Job: id, Set: "Alderbrook 88 stage piano", Customer: "Zelda Quist", Symptom: "hums in winter"},
		capture.Act{Verb: capture.ActOpen}, capture.Act{Verb: capture.ActClose},
	} {
		j.Consume(capture.Record{At: t0 + capture.Instant(i), Job: id, Item: item})
	}
	settle(t, j)
	head := verify(t, j)
	closeJob(t, j)
	return head
}

func TestEraseLeavesALineWithoutTheName(t *testing.T) {
	w := workspace(t, quick)
	closedJob(t, w, "AB-0148")
	head := closedJob(t, w, "AB-0147")
	for _, name := range []string{".format1", ".format1-journal", ".mine"} {
		if err := os.WriteFile(filepath.Join(w.jobs(), "AB-0147"+Extension+name), []byte("Zelda Quist"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	e, err := w.Erase(ctx, "AB-0147", "the customer asked for it", t0)
	if err != nil {
		t.Fatal(err)
	}
	const name = "AB-0147" + Extension
	if e.Records != 3 || e.Head != head.Hash || !slices.Equal(e.Files, []string{name + ".format1", name + ".format1-journal", name}) || !slices.Equal(e.Left, []string{name + ".mine"}) {
		t.Errorf("%+v", e)
	}
	want := "2026-03-02T08:00:00Z erased a job of 3 records, head " + head.Hash + ", because: \"the customer asked for it\"\n"
	if log, err := os.ReadFile(filepath.Join(w.dir, ErasedLog)); string(log) != want {
		t.Errorf("the log says %q, %v", log, err)
	}
	list, err := w.Jobs(ctx)
	if err != nil || len(list) != 1 || list[0].Job != "AB-0148" {
		t.Errorf("the list is %v, %v", list, err)
	}
	if _, err := w.Open("AB-0147", 0); !errors.Is(err, ErrNoJob) {
		t.Errorf("opening it gives %v", err)
	}
	if _, err := w.Erase(ctx, "AB-0147", "again", t0); !errors.Is(err, ErrNoJob) {
		t.Errorf("erasing it again gives %v", err)
	}
}

// The index is small and holds words of every job: those of an erased one must
// not stay in the unused parts of its file.
func TestEraseLeavesNoWordsInTheIndex(t *testing.T) {
	w := workspace(t, quick)
	closedJob(t, w, "AB-0147")
	count := func() (n int) {
		for _, end := range []string{"", "-wal"} {
			text, err := os.ReadFile(filepath.Join(w.dir, "bench.sqlite"+end))
			if err != nil {
				t.Fatal(err)
			}
			n += bytes.Count(text, []byte("hums in winter"))
		}
		return n
	}
	if count() == 0 {
		t.Fatal("the index never held the words")
	}
	if _, err := w.Erase(ctx, "AB-0147", "asked", t0); err != nil {
		t.Fatal(err)
	}
	if n := count(); n != 0 {
		t.Errorf("the words are there %d times", n)
	}
}

func TestEraseRefuses(t *testing.T) {
	w := workspace(t, quick)
	open := create(t, w, "open-here")
	left := create(t, w, "left-open")
	left.Consume(capture.Record{At: t0, Job: "left-open", Item: capture.Act{Verb: capture.ActOpen}})
	closeJob(t, left)
	closedJob(t, w, "renamed")
	if err := os.Rename(filepath.Join(w.jobs(), "renamed"+Extension), filepath.Join(w.jobs(), "other"+Extension)); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(w.jobs(), "ruined"+Extension), []byte(strings.Repeat("no database ", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	for job, want := range map[string]error{
		open.ID(): ErrOpenJob, "left-open": ErrOpenJob, "other": ErrNoJob, "never": ErrNoJob, "../x": capture.ErrJobID, "ruined": ErrNotOurs,
	} {
		if _, err := w.Erase(ctx, job, "asked", t0); !errors.Is(err, want) {
			t.Errorf("%s: %v, want %v", job, err, want)
		}
	}
	if fileExists(filepath.Join(w.dir, ErasedLog)) {
		t.Error("the log speaks of an erasure")
	}
	files, err := JobFiles(w.dir)
	if err != nil || len(files) != 4 {
		t.Errorf("%d files are left (%v): %v", len(files), err, files)
	}
}

// A link would stay half erased.
func TestEraseRefusesALink(t *testing.T) {
	w := workspace(t, quick)
	closedJob(t, w, "AB-0147")
	path, away := filepath.Join(w.jobs(), "AB-0147"+Extension), filepath.Join(t.TempDir(), "away"+Extension)
	if err := os.Rename(path, away); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(away, path); err != nil {
		t.Skipf("SKIPPED: no links here: %v", err)
	}
	if _, err := w.Erase(ctx, "AB-0147", "asked", t0); err == nil || !fileExists(path) || !fileExists(away) {
		t.Errorf("erased a link: %v", err)
	}
}

func TestOldCopies(t *testing.T) {
	dir := t.TempDir()
	for _, end := range []string{"", ".format1", ".format12", ".format", ".formatx", "-wal", ".new", ".format1.bak"} {
		if err := os.WriteFile(filepath.Join(dir, "AB-0147"+Extension+end), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	got, err := OldCopies(filepath.Join(dir, "AB-0147"+Extension))
	if err != nil || !slices.Equal(got, []string{"AB-0147" + Extension + ".format1", "AB-0147" + Extension + ".format12"}) {
		t.Errorf("%v, %v", got, err)
	}
}

func TestSizeGrowsWithoutTheLog(t *testing.T) {
	w := workspace(t, quick)
	j := create(t, w, "AB-0147")
	before, err := j.Size(ctx)
	if err != nil || before == 0 {
		t.Fatal(before, err)
	}
	for i := range 20000 {
		j.Consume(volts(t0+capture.Instant(i*1000+i%7), "dmm/volts", float64(i%97)/7))
	}
	settle(t, j)
	after, err := j.Size(ctx)
	closeJob(t, j)
	if err != nil || after <= before {
		t.Fatal(before, after, err)
	}
	if file := sizeOf(j.Path()); after != file {
		t.Errorf("%d bytes were told, the file has %d", after, file)
	}
	if free, err := FreeSpace(w.dir); err != nil || free <= 0 {
		t.Errorf("free space %d, %v", free, err)
	}
}
