//go:build unix

package paper

import (
	"errors"
	"io/fs"
	"os"
	"syscall"
)

// syncDir makes a new name in a folder durable, where that can be: a folder that may
// be written and not read cannot be opened for it, and some file systems of networks
// know no such request. The file is no less written there.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if errors.Is(err, fs.ErrPermission) {
		return nil
	}
	if err != nil {
		return err
	}
	err = d.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, errors.ErrUnsupported) {
		err = nil
	}
	return errors.Join(err, d.Close())
}
