package sim

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

const (
	folderPrefix = "steadyrail-bench-" // of a bench's folder for temporary files
	holdName     = "held"              // in it: locked as long as its bench lives
)

// folder makes a folder of the bench's own for its sockets and takes hold of
// it, so that [ClearLeftovers] of another process leaves it alone.
func (b *Bench) folder() error {
	dir, err := os.MkdirTemp("", folderPrefix)
	if err != nil {
		return fmt.Errorf("simulated bench: %w", err)
	}
	b.dir, b.ownDir = dir, true
	if b.held, err = takeHold(dir); err != nil {
		return errors.Join(fmt.Errorf("simulated bench: hold %s: %w", dir, err), os.RemoveAll(dir))
	}
	return nil
}

// letGo removes the bench's own folder.
func (b *Bench) letGo() {
	if !b.ownDir {
		return
	}
	os.RemoveAll(b.dir)
	if b.held != nil {
		b.held.Close()
	}
}

// takeHold locks a file in the folder. It gets its name when it is locked:
// nobody ever finds it free.
func takeHold(dir string) (*os.File, error) {
	f, err := os.CreateTemp(dir, holdName+"-")
	if err != nil {
		return nil, err
	}
	err = lock(f)
	if err == nil {
		err = os.Rename(f.Name(), filepath.Join(dir, holdName))
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	return f, nil
}

// ClearLeftovers removes the folders in a folder for temporary files that benches
// have left whose process was killed, and returns how many. What a process holds,
// what this user may not touch, and what does not look like a bench's folder stays.
func ClearLeftovers(temporary string) (removed int) {
	list, err := os.ReadDir(temporary)
	if err != nil || !canLock {
		return 0 // nothing that can be seen, nothing to clear
	}
	for _, e := range list {
		if !e.IsDir() || !strings.HasPrefix(e.Name(), folderPrefix) {
			continue
		}
		if clearFolder(filepath.Join(temporary, e.Name())) {
			removed++
		}
	}
	return removed
}

// clearFolder removes a folder when nobody holds it.
func clearFolder(dir string) bool {
	f, err := os.OpenFile(filepath.Join(dir, holdName), os.O_RDWR, 0)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return abandoned(dir) && os.RemoveAll(dir) == nil
	case err != nil:
		return false
	}
	defer f.Close()
	return lock(f) == nil && os.RemoveAll(dir) == nil
}

// longAgo is the age of a folder without a hold, of a program that took none or
// was killed before it did, from which on it counts as left.
const longAgo = 24 * time.Hour

// abandoned reports whether a folder without a hold is old and has nothing but
// names of terminals that are gone.
func abandoned(dir string) bool {
	info, err := os.Lstat(dir)
	if err != nil || time.Since(info.ModTime()) < longAgo {
		return false
	}
	list, err := os.ReadDir(dir)
	if err != nil {
		return false
	}
	for _, e := range list {
		path := filepath.Join(dir, e.Name())
		if _, err := os.Stat(path); e.Type() != fs.ModeSymlink || !errors.Is(err, fs.ErrNotExist) {
			return false
		}
	}
	return true
}
