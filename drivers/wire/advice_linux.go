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
		if unix.Faccessat(unix.AT_FDCWD, p.Name, unix.R_OK|unix.W_OK, unix.AT_EACCESS) == unix.EACCES {
			list[i].Access = howToGetIn(p.Name)
		}
	}
}

// holder names the program that has the port open, if this user may know.
func holder(path string) string {
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return ""
	}
	return holders("/proc")[real]
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
		process := filepath.Dir(filepath.Dir(fd))
		name, _ := os.ReadFile(filepath.Join(process, "comm"))
		out[to] = strings.TrimSpace(string(name)) + " (process " + filepath.Base(process) + ")"
	}
	return out
}
