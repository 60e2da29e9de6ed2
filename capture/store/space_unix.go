//go:build linux || darwin

package store

import (
	"fmt"

	"golang.org/x/sys/unix"
)

// FreeSpace returns how many bytes may still be written to the disk that dir
// lies on, by this user.
func FreeSpace(dir string) (int64, error) {
	var st unix.Statfs_t
	if err := unix.Statfs(dir, &st); err != nil {
		return 0, fmt.Errorf("ask how much room there is in %s: %w", dir, err)
	}
	return int64(st.Bavail) * int64(st.Bsize), nil
}
