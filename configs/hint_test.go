package configs

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A hint names the example of the kind of file that was asked for.
func TestHintNamesTheRightExample(t *testing.T) {
	empty := filepath.Join(t.TempDir(), "empty.yaml")
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{empty, empty + ".none"} {
		for want, load := range map[string]func(string) []Problem{
			"configs/example.yaml": func(p string) []Problem { _, l := Load(p); return l },
			"configs/standin.yaml": func(p string) []Problem { _, l := LoadStandIn(p); return l },
			"configs/board.yaml":   func(p string) []Problem { _, l := LoadBoard(p); return l },
		} {
			if l := load(path); len(l) != 1 || !strings.Contains(l[0].Hint, want) {
				t.Errorf("%s: %v", want, l)
			}
		}
	}
}
