package store

import "golang.org/x/sys/unix"

// mountType returns the type of the mount that dir lies in, such as "apfs"; ""
// when that cannot be told.
func mountType(dir string) string {
	var st unix.Statfs_t
	if err := unix.Statfs(dir, &st); err != nil {
		return ""
	}
	return unix.ByteSliceToString(st.Fstypename[:])
}
