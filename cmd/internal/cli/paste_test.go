package cli

import (
	"os/exec"
	"runtime"
	"testing"
)

// What is printed to be pasted survives a shell.
func TestPasted(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("there words stay as they are")
	}
	for word, want := range map[string]string{
		"/tmp/bench-east": "/tmp/bench-east", "/home/me/my bench": "'/home/me/my bench'", "it's": `'it'\''s'`,
		"": "''", "$HOME": "'$HOME'", "~": "'~'", "a;b": "'a;b'", "Werkstatt Süd": "'Werkstatt Süd'",
	} {
		if got := pasted(word); got != want {
			t.Errorf("%q: %s, want %s", word, got, want)
		}
		sh, err := exec.LookPath("sh")
		if err != nil {
			continue // no shell here to ask
		}
		if out, err := exec.CommandContext(t.Context(), sh, "-c", "printf %s "+pasted(word)).Output(); err != nil || string(out) != word {
			t.Errorf("%q: the shell makes %q of it, %v", word, out, err)
		}
	}
}
