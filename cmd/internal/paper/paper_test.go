package paper

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var errTorn = errors.New("torn")

// half writes a piece and fails, as a full disk does.
func half(w io.Writer) error {
	_, err := w.Write([]byte("ha"))
	return errors.Join(err, errTorn)
}

// only lists what lies in a folder, with its content.
func only(t *testing.T, dir string, want map[string]string) {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil || len(list) != len(want) {
		t.Fatalf("%v %v, want %v", list, err, want)
	}
	for name, text := range want {
		if got, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(got) != text {
			t.Errorf("%s: %q, %v; want %q", name, got, err, text)
		}
	}
}

// A file is there whole or not at all, and what stood there stays after a failure.
func TestWholeOrNotAtAll(t *testing.T) {
	for name, how := range map[string]func(string, func(io.Writer) error) error{"write": Write, "new": New} {
		dir := t.TempDir()
		file := filepath.Join(dir, "report.html")
		if err := how(file, half); !errors.Is(err, errTorn) {
			t.Errorf("%s: %v", name, err)
		}
		only(t, dir, nil)
		if err := how(file, Text("first")); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		only(t, dir, map[string]string{"report.html": "first"})
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "report.html")
	for _, text := range []string{"first", "second"} {
		if err := Write(file, Text(text)); err != nil {
			t.Fatal(err)
		}
	}
	if err := Write(file, half); !errors.Is(err, errTorn) {
		t.Error(err)
	}
	if err := New(file, Text("third")); !errors.Is(err, fs.ErrExist) {
		t.Error(err)
	}
	if err := moveNew(file, file); !errors.Is(err, fs.ErrExist) {
		t.Error(err)
	}
	only(t, dir, map[string]string{"report.html": "second"})
	if err := Write(filepath.Join(dir, "no", "folder"), Text("")); !errors.Is(err, fs.ErrNotExist) {
		t.Error(err)
	}
}

// A name is made durable once it is there, in the folder where it is; what the disk
// says against it names the file, which stays.
func TestANameIsMadeDurable(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "report.html")
	err := through(file, Text("first"), os.Rename, func(in string) error {
		if in != dir {
			t.Errorf("the folder %s was settled", in)
		}
		only(t, dir, map[string]string{"report.html": "first"})
		return errTorn
	})
	if !errors.Is(err, errTorn) || !strings.Contains(err.Error(), file) {
		t.Error(err)
	}
	only(t, dir, map[string]string{"report.html": "first"})
	if err := syncDir(dir); err != nil {
		t.Error(err)
	}
}
