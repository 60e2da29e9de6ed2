//go:build unix && !linux

package comparison

import (
	"runtime"
	"time"
)

// pauseFor sleeps.
func pauseFor(d time.Duration) { time.Sleep(d) }

// giveWay lets others have the processor.
func giveWay() { runtime.Gosched() }
