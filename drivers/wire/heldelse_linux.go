package wire

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/sys/unix"
)

// An ordinary user may not see what programs of others have open. What is left:
// the lock file that programs for serial ports put down, readable by all, and the
// command lines of all processes.

// lockDirs is where lock files lie (Filesystem Hierarchy Standard 3.0, 5.9: a file
// LCK.. and the name of the device, in it a process number of ten characters).
func lockDirs() []string { return []string{"/run/lock", "/var/lock"} }

// lockedBy names the living program that a lock file of the port names; empty when
// there is none. A lock file outlives a program that was killed.
func lockedBy(dirs []string, proc, path string) string {
	for _, dir := range dirs {
		for _, name := range namesOf(path) {
			file := filepath.Join(dir, "LCK.."+filepath.Base(name))
			b, err := os.ReadFile(file)
			words := strings.Fields(string(b))
			if err != nil || len(words) == 0 {
				continue
			}
			pid, err := strconv.Atoi(words[0])
			if err == nil && pid > 0 && pid != os.Getpid() && lives(pid) {
				// Its number may by now be that of another program.
				return program(filepath.Join(proc, words[0])) + " (so says " + file + "; delete that if it was left behind)"
			}
		}
	}
	return ""
}

// namesOf are the name of a port as it was written, and its real one.
func namesOf(path string) []string {
	real, err := filepath.EvalSymlinks(path)
	if err != nil || real == path {
		return []string{path}
	}
	return []string{path, real}
}

// lives reports whether there is such a process, be it somebody else's.
func lives(pid int) bool {
	err := unix.Kill(pid, 0)
	return err == nil || errors.Is(err, unix.EPERM)
}

// named returns a process of somebody else whose command line names the port.
func named(proc, path string) string {
	lines, _ := filepath.Glob(filepath.Join(proc, "[0-9]*/cmdline"))
	for _, line := range lines {
		b, err := os.ReadFile(line)
		process := filepath.Dir(line)
		if err != nil || !hidden(process) {
			continue
		}
		words := strings.Split(string(b), "\x00")
		for _, name := range namesOf(path) {
			if slices.ContainsFunc(words, func(w string) bool { return mentions(w, name) }) {
				return program(process)
			}
		}
	}
	return ""
}

// mentions reports whether a word of a command line holds the name of a port, and
// not that of another one which begins with it.
func mentions(word, name string) bool {
	_, after, ok := strings.Cut(word, name)
	return ok && (after == "" || strings.ContainsAny(after[:1], ",?: "))
}

// hidden reports whether this user may not see what a process has open.
func hidden(process string) bool {
	_, err := os.ReadDir(filepath.Join(process, "fd"))
	return errors.Is(err, os.ErrPermission)
}

// anyHidden reports whether there are processes of which that is so.
func anyHidden(proc string) bool {
	list, _ := filepath.Glob(filepath.Join(proc, "[0-9]*"))
	return slices.ContainsFunc(list, hidden)
}

// unseen says what can be said of a holder that this user may not see.
func unseen(path string) string {
	if !anyHidden("/proc") {
		return ""
	}
	who := "a program of another user"
	if p := named("/proc", path); p != "" {
		who += ", perhaps " + p + ", whose command line names it"
	}
	return who + " (sudo steadyrail ports shows which)"
}
