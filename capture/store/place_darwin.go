package store

import "golang.org/x/sys/unix"

// networkFileSystem says so when dir lies on a volume that is not local.
func networkFileSystem(dir string) string {
	var st unix.Statfs_t
	if err := unix.Statfs(dir, &st); err != nil || st.Flags&unix.MNT_LOCAL != 0 {
		return ""
	}
	return "a network volume"
}
