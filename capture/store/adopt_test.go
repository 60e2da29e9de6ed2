package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"steadyrail/capture"
)

// A file made elsewhere becomes a job of the workspace under a name that nobody has, and
// stays where it is otherwise.
func TestAdopt(t *testing.T) {
	w := workspace(t, quick)
	fresh := filepath.Join(w.Dir(), "fresh")
	if err := os.WriteFile(fresh, []byte("one"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := w.Adopt(fresh, "no/name"); !errors.Is(err, capture.ErrJobID) {
		t.Error(err)
	}
	if err := w.Adopt(fresh, "AB-0147"); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(fresh, []byte("two"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := w.Adopt(fresh, "ab-0147"); !errors.Is(err, ErrExists) {
		t.Error(err)
	}
	path, _ := w.Path("AB-0147")
	for file, want := range map[string]string{path: "one", fresh: "two"} {
		if got, err := os.ReadFile(file); string(got) != want {
			t.Errorf("%s: %q %v", file, got, err)
		}
	}
}
