//go:build unix

package paper

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// What is no file is written to and stays what it is.
func TestAPipeIsNotReplaced(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	heard := make(chan string, 1)
	go func() {
		text, err := os.ReadFile(pipe)
		heard <- string(text)
		if err != nil {
			t.Error(err)
		}
	}()
	if err := Write(pipe, Text("first")); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Lstat(pipe); err != nil || info.Mode().Type() != os.ModeNamedPipe {
		t.Fatalf("it is %v now: %v", info.Mode(), err)
	}
	if got := <-heard; got != "first" {
		t.Errorf("%q came through", got)
	}
}

// A file is written where its link points to.
func TestALinkStaysALink(t *testing.T) {
	dir := t.TempDir()
	file, link := filepath.Join(dir, "report.html"), filepath.Join(dir, "newest.html")
	if err := Write(file, Text("first")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("report.html", link); err != nil {
		t.Fatal(err)
	}
	if err := Write(link, Text("second")); err != nil {
		t.Fatal(err)
	}
	only(t, dir, map[string]string{"report.html": "second", "newest.html": "second"})
	if to, err := os.Readlink(link); err != nil || to != "report.html" {
		t.Errorf("the link: %q %v", to, err)
	}
}
