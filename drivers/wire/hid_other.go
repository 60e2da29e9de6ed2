//go:build !linux || ppc64 || ppc64le || mips || mipsle || mips64 || mips64le

package wire

import (
	"context"
	"fmt"
)

// dialHID says what to use instead: elsewhere a program that is not linked with
// the system's own libraries cannot speak HID.
func dialHID(_ context.Context, a Address, _ Line) (port, error) {
	return nil, fmt.Errorf("open %s: %w: HID bridges work on Linux only: use the meter's serial cable, or type its readings in", a, ErrNoPort)
}
