package sim

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"steadyrail/capture"
)

// What a killed bench leaves is cleared; what a living one holds, what is young
// and nobody knows, and what is something else stays.
func TestClearLeftovers(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("SKIPPED: nothing is cleared here")
	}
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir)
	living := NewBench(NewClock(capture.InstantOf(time.Now()), 1), 1, Scenario{TCP: true})
	if err := living.Start(context.Background()); err != nil {
		t.Fatal(err)
	}
	defer living.Close()
	make := func(name string, age time.Duration, fill func(dir string) error) string {
		path := filepath.Join(dir, name)
		if err := os.Mkdir(path, 0o700); err != nil {
			t.Fatal(err)
		}
		if fill != nil {
			if err := fill(path); err != nil {
				t.Fatal(err)
			}
		}
		at := time.Now().Add(-age)
		if err := os.Chtimes(path, at, at); err != nil {
			t.Fatal(err)
		}
		return path
	}
	link := func(to string) func(string) error {
		return func(dir string) error { return os.Symlink(to, filepath.Join(dir, "dmm")) }
	}
	stays := []string{
		living.dir,
		make(folderPrefix+"young", time.Hour, link("/dev/pts/nobody")),
		make(folderPrefix+"in-use", 48*time.Hour, link("/dev/null")),
		make(folderPrefix+"other", 48*time.Hour, func(dir string) error { return os.WriteFile(filepath.Join(dir, "notes"), nil, 0o600) }),
		make("steadyrail-demo-1", 48*time.Hour, nil),
	}
	goes := []string{
		make(folderPrefix+"killed", 0, func(dir string) error { return os.WriteFile(filepath.Join(dir, holdName), nil, 0o600) }),
		make(folderPrefix+"old", 48*time.Hour, link("/dev/pts/nobody")),
	}
	if n := ClearLeftovers(dir); n != len(goes) {
		t.Errorf("%d cleared, want %d", n, len(goes))
	}
	for _, path := range stays {
		if _, err := os.Stat(path); err != nil {
			t.Errorf("it is gone: %v", err)
		}
	}
	for _, path := range goes {
		if _, err := os.Stat(path); err == nil {
			t.Errorf("%s is still there", path)
		}
	}
	living.Close()
	if _, err := os.Stat(living.dir); err == nil {
		t.Error("a bench that is closed leaves its folder")
	}
}
