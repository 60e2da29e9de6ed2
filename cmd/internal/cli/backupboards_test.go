package cli

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
)

// Sheets go along whole, also one that is no sheet; nothing is overwritten, and a
// workspace without sheets is none the worse.
func TestCopyBoards(t *testing.T) {
	dir, dest := t.TempDir(), t.TempDir()
	if n, err := copyBoards(dir, dest); n != 0 || err != nil {
		t.Fatalf("no sheets: %d, %v", n, err)
	}
	if err := os.MkdirAll(filepath.Join(dir, "boards", "old.yaml"), 0o755); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"supply.yaml": "board: supply\n", "broken.yaml": "{", "supply.yaml.tmp": "half"} {
		if err := os.WriteFile(filepath.Join(dir, "boards", name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if n, err := copyBoards(dir, dest); n != 2 || err != nil {
		t.Fatalf("%d copied: %v", n, err)
	}
	if text, err := os.ReadFile(filepath.Join(dest, "boards", "supply.yaml")); string(text) != "board: supply\n" {
		t.Errorf("%q, %v", text, err)
	}
	if _, err := copyBoards(dir, dest); !errors.Is(err, fs.ErrExist) {
		t.Errorf("a second time: %v", err)
	}
}
