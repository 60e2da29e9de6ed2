package capture

import (
	"errors"
	"fmt"
	"strings"
)

// ErrJobID is wrapped by every refusal of a job's name.
var ErrJobID = errors.New("not a job name")

// CheckJobID reports whether id can name a job. A job's name is also the name
// of its file, on every system the file may be carried to, so it is 1 to 64
// ASCII letters, digits, dots, dashes and underscores, begins with a letter or
// a digit, does not end with a dot, and is none of the names that one system
// keeps for devices. The error wraps [ErrJobID].
func CheckJobID(id string) error {
	switch {
	case id == "":
		return fmt.Errorf("%w: it is empty; use letters and digits, such as AB-0147", ErrJobID)
	case len(id) > 64:
		return fmt.Errorf("%w: it has %d characters; use at most 64", ErrJobID, len(id))
	}
	for i, r := range id {
		alnum := r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
		if !alnum && (i == 0 || !strings.ContainsRune("-_.", r)) {
			return fmt.Errorf("%w: %q has %q at position %d; begin with a letter or digit and use only those, dots, dashes and underscores", ErrJobID, id, r, i+1)
		}
	}
	if strings.HasSuffix(id, ".") {
		return fmt.Errorf("%w: %q ends with a dot, which some systems drop from a file's name", ErrJobID, id)
	}
	base, _, _ := strings.Cut(strings.ToUpper(id), ".")
	if deviceName(base) {
		return fmt.Errorf("%w: %q is the name of a device on some systems; choose another", ErrJobID, id)
	}
	return nil
}

// deviceName reports whether the name, in capitals, is kept for a device.
func deviceName(base string) bool {
	switch base {
	case "CON", "PRN", "AUX", "NUL":
		return true
	}
	port, ok := strings.CutPrefix(base, "COM")
	if !ok {
		port, ok = strings.CutPrefix(base, "LPT")
	}
	return ok && len(port) == 1 && port[0] >= '0' && port[0] <= '9'
}
