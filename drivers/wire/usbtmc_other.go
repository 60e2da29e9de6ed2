//go:build !linux || ppc64 || ppc64le || mips || mipsle || mips64 || mips64le

package wire

import (
	"context"
	"fmt"
)

// dialUSBTMC says what to use instead: the other systems have no driver that
// comes with them.
func dialUSBTMC(_ context.Context, a Address, _ Line) (port, error) {
	return nil, fmt.Errorf("open %s: %w: USB test instruments (USBTMC) work on Linux only: use the instrument's network socket (tcp:, hislip: or vxi11:) or its serial port", a, ErrNoPort)
}
