package wire

import (
	"fmt"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
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

// holder names the program that has the port open, if this user may know.
func holder(path string) string {
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return ""
	}
	fds, _ := filepath.Glob("/proc/[0-9]*/fd/*")
	for _, fd := range fds {
		if to, err := os.Readlink(fd); err != nil || to != real {
			continue
		}
		pid := strings.Split(fd, "/")[2]
		name, _ := os.ReadFile("/proc/" + pid + "/comm")
		return strings.TrimSpace(string(name)) + " (process " + pid + ")"
	}
	return ""
}
