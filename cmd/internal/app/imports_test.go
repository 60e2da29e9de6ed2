package app_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/capture/table"
	"steadyrail/cmd/internal/app"
)

// importOf writes a capture of two columns and says how it becomes a job.
func importOf(t *testing.T, rows int) app.Import {
	t.Helper()
	var b strings.Builder
	b.WriteString("Time (ms);CH1 (V);CH2 (mA)\n")
	for i := range rows {
		fmt.Fprintf(&b, "%d;%d,%03d;%d,5\n", i, 4+i%2, i%1000, i%300)
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "capture.csv")
	if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	l, err := table.Understand(strings.NewReader(b.String()), table.Options{Start: "2031-03-12T10:00:00Z"})
	if err != nil {
		t.Fatal(err)
	}
	return app.Import{
		Workspace: filepath.Join(dir, "bench"), Path: path, Layout: l, Sheet: capture.Sheet{Job: "SCOPE-1"},
		Now: capture.InstantOf(time.Date(2031, 4, 1, 0, 0, 0, 0, time.UTC)), Version: "test",
	}
}

// jobsIn lists what lies in a workspace: its jobs, and whatever an import left.
func jobsIn(t *testing.T, dir string) (jobs, left []string) {
	t.Helper()
	jobs, err := filepath.Glob(filepath.Join(dir, "jobs", "*"))
	if err != nil {
		t.Fatal(err)
	}
	if left, err = filepath.Glob(filepath.Join(dir, ".import-*")); err != nil {
		t.Fatal(err)
	}
	return jobs, left
}

// More values than the store would ever let wait arrive, each as it stands in
// the file, in a job that is closed and says where it came from.
func TestImport(t *testing.T) {
	t.Parallel()
	im := importOf(t, 60_000)
	out, err := im.Run(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if out.Rows != 60_000 || out.Values != 120_000 || out.Shifted != 60_000 {
		t.Errorf("%+v", out)
	}
	jobs, left := jobsIn(t, im.Workspace)
	if len(jobs) != 1 || len(left) != 0 {
		t.Fatalf("jobs %v, left %v", jobs, left)
	}
	start := capture.InstantOf(time.Date(2031, 3, 12, 10, 0, 0, 0, time.UTC))
	n := map[capture.ChannelID]uint64{}
	err = app.ReadFile(t.Context(), jobs[0], func(f *store.Job, b *job.Book) error {
		if b.Closed() == 0 || !f.LeftInOrder() || len(b.Sheet().NotChecked) != 1 || !strings.Contains(b.Sheet().NotChecked[0], out.SHA256) {
			t.Errorf("closed %s, in order %t, sheet %+v", b.Closed(), f.LeftInOrder(), b.Sheet())
		}
		if _, err := f.Verify(t.Context()); err != nil {
			t.Error(err)
		}
		return f.Records(t.Context(), 0, 0, func(rec capture.Record) error {
			r, ok := rec.Item.(capture.Reading)
			if !ok {
				return nil
			}
			i := n[r.Channel]
			n[r.Channel]++
			at := start + capture.Instant(i*1000)
			want, second := float64(4+i%2)+float64(i%1000)/1000, capture.Instant(0)
			if r.Channel == "import/ch2" {
				want, second = float64(i%300*10+5)/10_000, 1
			}
			if diff := r.Value - want; diff > 1e-12 || diff < -1e-12 || rec.At != at+second || r.Measured != at || r.Ordinal != i+1 {
				return fmt.Errorf("reading %d of %s is %+v at %s", i, r.Channel, r, rec.At)
			}
			return nil
		})
	})
	if err != nil || n["import/ch1"] != 60_000 || n["import/ch2"] != 60_000 {
		t.Errorf("%v, %v", n, err)
	}
	im.Sheet.Job = "scope-1"
	if _, err := im.Run(t.Context()); !errors.Is(err, store.ErrExists) {
		t.Errorf("the same name again: %v", err)
	}
}

// An import that ends in the middle leaves nothing, whatever ended it, and the
// next one takes away what a killed one left.
func TestImportAllOrNothing(t *testing.T) {
	t.Parallel()
	im := importOf(t, 5000)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	gone := errors.New("disk gone")
	for what, through := range map[string]func(string, int64, io.Reader) io.Reader{
		"given up": func(what string, _ int64, r io.Reader) io.Reader {
			if what == "writing" {
				cancel()
			}
			return r
		},
		"torn": func(what string, size int64, r io.Reader) io.Reader {
			if what == "writing" {
				return io.MultiReader(io.LimitReader(r, size/2), torn{gone})
			}
			return r
		},
		"changed": func(what string, size int64, r io.Reader) io.Reader {
			if what == "writing" {
				return io.MultiReader(r, strings.NewReader("5000;4,000;0,5\n"))
			}
			return r
		},
	} {
		im.Through = through
		run := t.Context()
		if what == "given up" {
			run = ctx
		}
		_, err := im.Run(run)
		if err == nil || what == "given up" && !errors.Is(err, context.Canceled) || what == "torn" && !errors.Is(err, gone) || what == "changed" && !strings.Contains(err.Error(), "changed while it was read") {
			t.Errorf("%s: %v", what, err)
		}
		if jobs, left := jobsIn(t, im.Workspace); len(jobs)+len(left) != 0 {
			t.Errorf("%s: left %v, %v", what, jobs, left)
		}
	}
	im.Through = nil
	if err := os.MkdirAll(filepath.Join(im.Workspace, ".import-killed", "jobs"), 0o700); err != nil {
		t.Fatal(err)
	}
	if _, err := im.Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	if jobs, left := jobsIn(t, im.Workspace); len(jobs) != 1 || len(left) != 0 {
		t.Errorf("jobs %v, left %v", jobs, left)
	}
}

type torn struct{ err error }

func (t torn) Read([]byte) (int, error) { return 0, t.err }

// A workspace that is held is left alone.
func TestImportIntoHeldWorkspace(t *testing.T) {
	t.Parallel()
	im := importOf(t, 10)
	w, err := store.OpenWorkspace(im.Workspace, store.Options{AnyFileSystem: true})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	var held *store.HeldError
	if _, err := im.Run(t.Context()); !errors.As(err, &held) {
		t.Errorf("got %v", err)
	}
}
