package store

import (
	"path/filepath"
	"strings"

	"golang.org/x/sys/windows"
)

// networkFileSystem says so when dir lies on a drive of another machine.
func networkFileSystem(dir string) string {
	volume := filepath.VolumeName(dir)
	if strings.HasPrefix(volume, `\\`) {
		return "a network share"
	}
	root, err := windows.UTF16PtrFromString(volume + `\`)
	if err == nil && windows.GetDriveType(root) == windows.DRIVE_REMOTE {
		return "a network drive"
	}
	return ""
}
