//go:build !linux

package sim

import "time"

const canNap = false

func doze(time.Duration) {}
