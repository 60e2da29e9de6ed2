// Package paper writes the files that a person asked for: reports, exports, proofs,
// sheets, configurations. Each appears whole or not at all: it is written beside its
// place, made sure to be on the disk, and renamed; then its folder is made sure of, for
// a power cut takes a name that only memory holds. A failure leaves what stood there
// before, and nothing half written.
package paper

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Write writes a file, in the place of one of that name. A symbolic link stays one.
// A pipe or a device is written to as it stands: a file in its place would put an end
// to it, and for root to /dev/null.
func Write(name string, write func(io.Writer) error) error {
	if info, err := os.Stat(name); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return straight(name, write)
	}
	if target, err := filepath.EvalSymlinks(name); err == nil {
		name = target
	}
	return through(name, write, os.Rename, syncDir)
}

func straight(name string, write func(io.Writer) error) error {
	f, err := os.OpenFile(name, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	return errors.Join(write(f), f.Close())
}

// New writes a file under a name that nobody has; else the error wraps
// [fs.ErrExist] and what is there stays.
func New(name string, write func(io.Writer) error) error {
	if _, err := os.Lstat(name); err == nil {
		return &fs.PathError{Op: "write", Path: name, Err: fs.ErrExist}
	}
	return through(name, write, moveNew, syncDir)
}

// Text is what writes a text.
func Text[T string | []byte](text T) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := w.Write([]byte(text))
		return err
	}
}

func through(name string, write func(io.Writer) error, move func(from, to string) error, settle func(dir string) error) error {
	f, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+"-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // gone already when all went well
	err = write(f)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	if err := move(f.Name(), name); err != nil {
		return err
	}
	if err := settle(filepath.Dir(name)); err != nil {
		return fmt.Errorf("%s is written, but a power cut may still take its name: %w; write it once more when the disk is well", name, err)
	}
	return nil
}

// moveNew renames a file to a name that nobody has. A second name refuses what
// is there; where the file system has none, looking first must do.
func moveNew(from, to string) error {
	err := os.Link(from, to)
	if err == nil || errors.Is(err, fs.ErrExist) {
		return err
	}
	if _, err := os.Lstat(to); err == nil {
		return fs.ErrExist
	}
	return os.Rename(from, to)
}
