//go:build !linux

package pedal

import (
	"context"
	"errors"
)

// List names no device: only Linux lets one be read.
func List() []Device { return nil }

// ErrNone tells that a pedal of its own works on Linux only.
var ErrNone = errors.New("a pedal of its own works on Linux only: the page /walk takes any key here")

// Listen says why it cannot, and waits for the end.
func Listen(ctx context.Context, _ Config, _ func(Press), told func(error)) {
	told(ErrNone)
	<-ctx.Done()
}
