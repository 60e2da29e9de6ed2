package cli_test

import (
	"io"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/creack/pty"
)

// On a terminal import and export show how far they are, and take it away again.
func TestBarOnATerminal(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	file, err := filepath.Abs(filepath.Join("..", "..", "..", "capture", "table", "testdata", "scope-two-channels.csv"))
	if err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"import", file, "--job", "SCOPE-1"}, {"export", "SCOPE-1", "--out", "out.csv"}} {
		screen, err := onTerminal(dir, args...)
		if err != nil || !strings.Contains(screen, "|==") || !strings.Contains(screen, " %") || !strings.Contains(screen, strings.Repeat(" ", 40)+"\r") {
			t.Errorf("%s: %v, %q", args, err, screen)
		}
	}
}

// onTerminal runs the program with a terminal for stderr and returns what it
// showed there.
func onTerminal(dir string, args ...string) (string, error) {
	master, slave, err := pty.Open()
	if err != nil {
		return "", err
	}
	defer master.Close()
	cmd := exec.Command("steadyrail", append(args, "--workspace", "bench")...)
	cmd.Dir, cmd.Stderr = dir, slave
	err = cmd.Start()
	slave.Close()
	if err != nil {
		return "", err
	}
	screen, _ := io.ReadAll(master) // ends with an error when the far end is closed
	return string(screen), cmd.Wait()
}
