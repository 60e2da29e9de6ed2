package wire

import (
	"fmt"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"

	"golang.org/x/sys/unix"
)

// howToGetIn names the group that may use the port.
func howToGetIn(path string) string {
	info, err := os.Stat(path)
	if err != nil {
		return "ask the administrator of this computer for access"
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok || info.Mode().Perm()&0o060 != 0o060 {
		return "no group may use it: install the device rules, configs/70-steadyrail.rules"
	}
	group := strconv.FormatUint(uint64(st.Gid), 10)
	if g, err := user.LookupGroupId(group); err == nil {
		group = g.Name
	}
	return fmt.Sprintf("it belongs to group %s: sudo usermod -aG %s $USER, then log out and in again", group, group)
}

// addRights says of each port who has it open and how to get the right to.
// Neither opens it.
func addRights(list []Port) {
	who := holders("/proc")
	for i, p := range list {
		if real, err := filepath.EvalSymlinks(p.Name); err == nil {
			list[i].Holder = who[real]
		}
		if list[i].Holder == "" {
			list[i].Holder = lockedBy(lockDirs(), "/proc", p.Name)
		}
		if unix.Faccessat(unix.AT_FDCWD, p.Name, unix.R_OK|unix.W_OK, unix.AT_EACCESS) == unix.EACCES {
			list[i].Access = howToGetIn(p.Name)
		}
	}
}

// holder names the program that has the port open, if this user may know:
// another one first, else this one.
func holder(path string) string {
	if who := occupier(path); who != "" {
		return who
	}
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return ""
	}
	return holders("/proc")[real]
}

// HoldersHidden reports whether programs of other users may hold ports without
// this user being able to see it.
func HoldersHidden() bool { return anyHidden("/proc") }

// occupier names another program that has the port open. The superuser opens
// also what its holder has closed to others, and both would then read half.
func occupier(path string) string {
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return ""
	}
	if who := heldByOther("/proc", real); who != "" {
		return who
	}
	return lockedBy(lockDirs(), "/proc", path)
}

// heldByOther names a process other than this one that has the device open.
// The far end of a pseudo-terminal is none: a simulated instrument keeps the
// side open that it offers.
func heldByOther(proc, device string) string {
	own := strconv.Itoa(os.Getpid())
	fds, _ := filepath.Glob(filepath.Join(proc, "[0-9]*/fd/*"))
	for _, fd := range fds {
		process := filepath.Dir(filepath.Dir(fd))
		if to, err := os.Readlink(fd); err != nil || to != device || filepath.Base(process) == own || servesTerminals(process) {
			continue
		}
		return program(process)
	}
	return ""
}

// servesTerminals reports whether a process serves pseudo-terminals.
func servesTerminals(process string) bool {
	fds, _ := filepath.Glob(filepath.Join(process, "fd/*"))
	for _, fd := range fds {
		if to, _ := os.Readlink(fd); to == "/dev/ptmx" || to == "/dev/pts/ptmx" {
			return true
		}
	}
	return false
}

// program names a process by its folder.
func program(process string) string {
	name, _ := os.ReadFile(filepath.Join(process, "comm"))
	return strings.TrimSpace(string(name)) + " (process " + filepath.Base(process) + ")"
}

// holders maps what lies in /dev to the program that has it open.
func holders(proc string) map[string]string {
	out := map[string]string{}
	fds, _ := filepath.Glob(filepath.Join(proc, "[0-9]*/fd/*"))
	for _, fd := range fds {
		to, err := os.Readlink(fd)
		if err != nil || !strings.HasPrefix(to, "/dev/") || out[to] != "" {
			continue
		}
		out[to] = program(filepath.Dir(filepath.Dir(fd)))
	}
	return out
}
