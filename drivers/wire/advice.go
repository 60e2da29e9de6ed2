package wire

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	"go.bug.st/serial"
)

// explainOpen tells apart why a port cannot be opened and says what to do.
// The library reports a missing device as a plain system error, and everything
// else as a pointer to its PortError.
func explainOpen(path string, err error) error {
	var pe *serial.PortError
	switch {
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENXIO), errors.Is(err, syscall.ENODEV):
		return missing(path, err)
	case errors.Is(err, fs.ErrPermission):
		return denied(path)
	case errors.Is(err, syscall.EISDIR):
		return fmt.Errorf("open %s: %w: this is a folder, not a port: name one that `steadyrail ports` lists", path, ErrNoPort)
	case errors.Is(err, syscall.EBUSY):
		return busy(path)
	case !errors.As(err, &pe):
		return fmt.Errorf("open %s: %w: %w", path, ErrNoPort, err)
	}
	switch pe.Code() {
	case serial.PortBusy:
		return busy(path)
	case serial.PermissionDenied:
		return denied(path)
	case serial.PortNotFound:
		return missing(path, err)
	case serial.InvalidSerialPort:
		return fmt.Errorf("open %s: %w: this is no serial port, or it does not take these settings: %w", path, ErrNoPort, err)
	}
	return fmt.Errorf("open %s: %w: %w", path, ErrAddress, err)
}

func missing(path string, err error) error {
	return fmt.Errorf("open %s: %w: plug the adapter in, or look at `steadyrail ports` for its present name (%w)", path, ErrNoPort, err)
}

func busy(path string) error {
	who := cmp.Or(holder(path), unseen(path), "another program")
	return fmt.Errorf("open %s: %w: %s holds it: stop that first", path, ErrBusy, who)
}

func denied(path string) error {
	return fmt.Errorf("open %s: %w: %s", path, ErrDenied, howToGetIn(path))
}
