package store

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// tryLock locks one byte far behind the file's content, for locks forbid
// reading what they cover here. Closing the file lets it go.
func tryLock(f *os.File, exclusive bool) (bool, error) {
	flags := uint32(windows.LOCKFILE_FAIL_IMMEDIATELY)
	if exclusive {
		flags |= windows.LOCKFILE_EXCLUSIVE_LOCK
	}
	err := windows.LockFileEx(windows.Handle(f.Fd()), flags, 0, 1, 0, &windows.Overlapped{Offset: 1 << 30})
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return false, nil
	}
	return err == nil, err
}

// syncDir does nothing: folders cannot be synchronised here.
func syncDir(string) error { return nil }

// gone reports whether there certainly is no process of that number: here a
// dead holder cannot be told from one that is starting.
func gone(int) bool { return false }
