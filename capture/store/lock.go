package store

import (
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"

	"steadyrail/capture"
)

// lockName is the file by which a daemon holds its workspace, and by which
// commands find it.
const lockName = "daemon.json"

// ErrHeld is wrapped when another process holds the workspace.
var ErrHeld = errors.New("workspace is in use")

// ErrNoDaemon is wrapped by [ReadLock] when no living daemon holds the
// workspace.
var ErrNoDaemon = errors.New("no daemon runs on this workspace")

// Holder is what the lock file says about the daemon that holds a workspace.
// Only the owner of the file can read it.
type Holder struct {
	PID     int             `json:"pid"`
	Address string          `json:"address"` // "127.0.0.1:8470"; empty until it listens
	Token   string          `json:"token"`   // acts must carry it
	Started capture.Instant `json:"started"`
}

// HeldError says who holds the workspace. It wraps [ErrHeld].
type HeldError struct {
	Dir     string
	PID     int    // 0 when the holder has not said yet
	Address string // "" when it does not listen yet
}

// Error says it in a sentence.
func (e *HeldError) Error() string {
	who := "another process"
	if e.PID != 0 {
		who = fmt.Sprintf("process %d", e.PID)
	}
	if e.Address != "" {
		who += " at " + e.Address
	}
	return fmt.Sprintf("%v: %s holds %s; use that one, stop it, or choose another folder", ErrHeld, who, e.Dir)
}

// Unwrap returns [ErrHeld].
func (e *HeldError) Unwrap() error { return ErrHeld }

// lock is a held lock file. The operating system lets it go when the process
// dies, however it dies.
type lock struct {
	mu     sync.Mutex
	file   *os.File // nil after release
	holder Holder
}

// Wall times for who meets a lock in the moment it is being taken or read.
const (
	lockTries = 20
	lockPause = 10 * time.Millisecond
)

// takeLock takes the lock of a folder and writes the holder into it.
func takeLock(dir string, h Holder) (*lock, error) {
	f, err := os.OpenFile(filepath.Join(dir, lockName), os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, err
	}
	if err := f.Chmod(0o600); err != nil && !errors.Is(err, errors.ErrUnsupported) {
		f.Close()
		return nil, err
	}
	held := false
	for range lockTries { // a command may be looking at it for a moment
		if held, err = tryLock(f, true); held || err != nil {
			break
		}
		time.Sleep(lockPause)
	}
	if err != nil || !held {
		f.Close()
		if err != nil {
			return nil, fmt.Errorf("lock %s: %w", lockName, err)
		}
		who, _ := readHolder(dir)
		return nil, &HeldError{Dir: dir, PID: who.PID, Address: who.Address}
	}
	var secret [16]byte
	rand.Read(secret[:])
	h.Token = hex.EncodeToString(secret[:])
	l := &lock{file: f, holder: h}
	if err := l.write(); err != nil {
		f.Close()
		return nil, err
	}
	return l, nil
}

func (l *lock) setAddress(address string) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.file == nil {
		return fmt.Errorf("set address: workspace is %w", ErrClosed)
	}
	l.holder.Address = address
	return l.write()
}

// write replaces the file's content. A reader that meets it half way sees no
// JSON and looks again.
func (l *lock) write() error {
	text, err := json.MarshalIndent(l.holder, "", "  ")
	if err != nil {
		return err
	}
	if err := l.file.Truncate(0); err != nil {
		return err
	}
	if _, err := l.file.WriteAt(append(text, '\n'), 0); err != nil {
		return fmt.Errorf("write %s: %w", lockName, err)
	}
	return nil
}

// release empties the file and lets it go. The file stays: to remove a lock
// file is to let two processes lock two files of one name.
func (l *lock) release() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.file == nil {
		return nil
	}
	err := errors.Join(l.file.Truncate(0), l.file.Close())
	l.file = nil
	return err
}

// ReadLock returns the daemon that holds a workspace now. The error wraps
// [ErrNoDaemon] when none does, even if one that died left its file.
func ReadLock(dir string) (Holder, error) {
	f, err := os.Open(filepath.Join(dir, lockName))
	if errors.Is(err, os.ErrNotExist) {
		return Holder{}, fmt.Errorf("%w: %s", ErrNoDaemon, dir)
	}
	if err != nil {
		return Holder{}, fmt.Errorf("look for the daemon: %w", err)
	}
	free, err := tryLock(f, false)
	f.Close() // lets go of a lock that was got
	if err != nil {
		return Holder{}, fmt.Errorf("look for the daemon: lock %s: %w", lockName, err)
	}
	if free {
		return Holder{}, fmt.Errorf("%w: %s", ErrNoDaemon, dir)
	}
	h, err := readHolder(dir)
	if err != nil {
		return Holder{}, fmt.Errorf("look for the daemon: %w", err)
	}
	return h, nil
}

// readHolder reads the lock file, again while its holder is writing it, or has
// not begun to and the file still says who was killed before.
func readHolder(dir string) (h Holder, err error) {
	for range lockTries {
		var text []byte
		if text, err = os.ReadFile(filepath.Join(dir, lockName)); err != nil {
			return h, err
		}
		if err = json.Unmarshal(text, &h); err == nil && !gone(h.PID) {
			return h, nil
		}
		time.Sleep(lockPause)
	}
	if err != nil {
		return h, fmt.Errorf("%s is held but says nothing: %w", lockName, err)
	}
	return h, nil // it may live where its number means nothing here
}
