//go:build !linux && !windows

package wire

import "path/filepath"

// usbHint: the ids would need the system's own language runtime, which a
// static program does not carry.
const usbHint = ": on this system USB ids cannot be read; write serial:/dev/cu.... instead"

// systemPorts lists names only. On macOS it is cu, not tty: a tty name waits
// for a carrier when it is opened.
func systemPorts() ([]Port, error) {
	var list []Port
	for _, pattern := range []string{"/dev/cu.*", "/dev/cuaU[0-9]*"} {
		names, err := filepath.Glob(pattern)
		if err != nil {
			return nil, err
		}
		for _, n := range names {
			list = append(list, Port{Kind: KindSerial, Name: n})
		}
	}
	return list, nil
}
