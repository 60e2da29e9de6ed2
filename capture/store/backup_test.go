package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"

	"steadyrail/capture"
)

// While the job is written a copy is whole, and ends where the record then did.
func TestBackupFileBesideTheWriter(t *testing.T) {
	w := workspace(t, quick)
	j := create(t, w, "AB-0147")
	to := t.TempDir()
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			default:
			}
			j.Consume(volts(t0.Add(time.Duration(i)*time.Millisecond), "dmm/volts", 5))
			if i%50 == 0 {
				settle(t, j)
			}
		}
	}()
	var heads []capture.Head
	for _, name := range []string{"a", "b", "c"} {
		got, err := BackupFile(ctx, j.Path(), filepath.Join(to, name+Extension))
		if err != nil {
			t.Fatal(err)
		}
		if got.Job != "AB-0147" || got.Damaged != "" || got.Bytes != sizeOf(got.Path) || got.Bytes == 0 {
			t.Errorf("%+v", got)
		}
		heads = append(heads, got.Head)
	}
	close(stop)
	<-done
	settle(t, j)
	for _, h := range heads {
		if h.Count == 0 {
			continue // nothing had been committed yet
		}
		if found, err := j.Heads(ctx, h.Hash); len(found.Known) != 1 || err != nil {
			t.Errorf("the job never had the head %v: %v", h, err)
		}
	}
	files, err := os.ReadDir(to)
	if err != nil || len(files) != 3 {
		t.Errorf("the folder holds %v (%v), want three copies and nothing else", files, err)
	}
}

// Names are those of the folder one is in.
func TestBackupFileByRelativeNames(t *testing.T) {
	w := workspace(t, quick)
	j := create(t, w, "AB-0147")
	t.Chdir(w.dir)
	if _, err := BackupFile(ctx, filepath.Join("jobs", filepath.Base(j.Path())), "copy"+Extension); err != nil {
		t.Error(err)
	}
}

func TestBackupFileReplacesNothing(t *testing.T) {
	w := workspace(t, quick)
	j := create(t, w, "AB-0147")
	to := filepath.Join(t.TempDir(), "copy"+Extension)
	if err := os.WriteFile(to, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := BackupFile(ctx, j.Path(), to); !errors.Is(err, fs.ErrExist) {
		t.Errorf("%v", err)
	}
	part := filepath.Join(t.TempDir(), "part")
	if err := os.WriteFile(part, []byte("other"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := moveIn(part, to); !errors.Is(err, fs.ErrExist) { // it came meanwhile
		t.Errorf("%v", err)
	}
	if text, err := os.ReadFile(to); string(text) != "mine" {
		t.Errorf("the file holds %q, %v", text, err)
	}
}

// A job that is damaged can be saved too, but nobody takes the copy for good.
func TestBackupFileOfADamagedJob(t *testing.T) {
	w := workspace(t, quick)
	j := create(t, w, "AB-0147")
	j.Consume(volts(t0, "dmm/volts", 5))
	j.Consume(act(t0+1, capture.ActOpen))
	closeJob(t, j)
	spoil(t, j.Path(), "UPDATE item SET at = at - 1")
	got, err := BackupFile(ctx, j.Path(), filepath.Join(t.TempDir(), "copy"+Extension))
	if err != nil || got.Damaged == "" || got.Bytes == 0 {
		t.Errorf("%+v, %v", got, err)
	}
}
