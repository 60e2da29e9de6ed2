package capture

import (
	"errors"
	"strings"
	"testing"
)

func TestCheckJobID(t *testing.T) {
	for _, id := range []string{"AB-0147", "a", "7", "2026.14", "x_y-z.1", "COM10", "console", strings.Repeat("a", 64)} {
		if err := CheckJobID(id); err != nil {
			t.Errorf("%q: %v", id, err)
		}
	}
	for _, id := range []string{"", ".", "..", "../x", "a/b", `a\b`, "a b", "-x", ".x", "a.", "Ä-1", "a\x00b", "a\n", "CON", "nul", "com1", "LPT9.old", "a:b", strings.Repeat("a", 65)} {
		if err := CheckJobID(id); !errors.Is(err, ErrJobID) {
			t.Errorf("%q: got %v, want ErrJobID", id, err)
		}
	}
}
