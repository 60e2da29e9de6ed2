//go:build !ppc64 && !ppc64le

package wire

import "golang.org/x/sys/unix"

// The second form of the settings tells the rate in bits per second, the first
// only by the name of a usual rate.
const (
	getTermios = unix.TCGETS2
	setTermios = unix.TCSETS2
	markSpace  = unix.CMSPAR
)
