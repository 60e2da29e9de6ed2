package store

import (
	"bufio"
	"io"
	"os"
	"path"
	"strconv"
	"strings"
)

// mountType returns the type of the mount that dir, absolute and without links,
// lies in, such as "ext4" or "fuse.sshfs"; "" when that cannot be told.
func mountType(dir string) string {
	f, err := os.Open("/proc/self/mountinfo")
	if err != nil {
		return ""
	}
	defer f.Close()
	return typeIn(f, dir)
}

// typeIn finds a folder's mount in a list as proc_pid_mountinfo(5) describes
// it. Of mounts on each other the last one counts.
func typeIn(list io.Reader, dir string) (kind string) {
	longest := -1
	sc := bufio.NewScanner(list)
	sc.Buffer(nil, 1<<20) // options of stacked mounts are long
	for sc.Scan() {
		// ID, parent, device, root, mount point, options, tags..., "-", type
		before, after, ok := strings.Cut(sc.Text(), " - ")
		fields, rest := strings.Fields(before), strings.Fields(after)
		if !ok || len(fields) < 6 || len(rest) == 0 {
			continue
		}
		point := unescaped(fields[4])
		if within(dir, point) && len(point) >= longest {
			kind, longest = rest[0], len(point)
		}
	}
	return kind
}

// within reports whether dir is a folder or lies in it.
func within(dir, folder string) bool {
	return dir == folder || strings.HasPrefix(dir, strings.TrimSuffix(path.Clean(folder), "/")+"/")
}

// unescaped reads what the kernel writes as \ooo: blanks, line ends, backslashes.
func unescaped(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] == '\\' && i+4 <= len(s) {
			if n, err := strconv.ParseUint(s[i+1:i+4], 8, 8); err == nil {
				b.WriteByte(byte(n))
				i += 3
				continue
			}
		}
		b.WriteByte(s[i])
	}
	return b.String()
}
