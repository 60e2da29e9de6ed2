package store

import (
	"fmt"
	"math"

	"golang.org/x/sys/windows"
)

// FreeSpace returns how many bytes may still be written to the disk that dir
// lies on, by this user.
func FreeSpace(dir string) (int64, error) {
	name, err := windows.UTF16PtrFromString(dir)
	var free uint64
	if err == nil {
		err = windows.GetDiskFreeSpaceEx(name, &free, nil, nil)
	}
	if err != nil {
		return 0, fmt.Errorf("ask how much room there is in %s: %w", dir, err)
	}
	return int64(min(free, math.MaxInt64)), nil
}
