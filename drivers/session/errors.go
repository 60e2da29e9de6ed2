package session

import (
	"fmt"

	"steadyrail/capture"
)

// The sentinels of an instrument, beside those of package wire. They carry the
// flags that a reading gets which failed because of them.
var (
	// ErrMismatch: another instrument answered than was expected. Nothing may be
	// filed until somebody has looked.
	ErrMismatch error = &fault{"another instrument answers", capture.Mismatch}
	// ErrRefused: the instrument reported an error instead.
	ErrRefused error = &fault{"refused by the instrument", capture.Refused}
	// ErrMalformed: an answer that cannot be read. The next call resynchronises.
	ErrMalformed error = &fault{"malformed answer", capture.Garbled}
	// ErrNotAllowed: the configuration, or the driver, does not allow it.
	// Nothing was sent.
	ErrNotAllowed error = &fault{"not allowed", capture.Refused}
	// ErrNotConnected: Connect has not succeeded since the last loss.
	ErrNotConnected error = &fault{"not connected", capture.Disconnected}
	// ErrNoChannel: the instrument has no such channel, or its input is set to
	// another function.
	ErrNoChannel error = &fault{"no such channel", capture.Refused}
)

type fault struct {
	text  string
	flags capture.Flags
}

func (f *fault) Error() string { return f.text }

// Flags returns what a reading gets that failed with this error.
func (f *fault) Flags() capture.Flags { return f.flags }

// Malformed quotes an answer that cannot be read, cut to a sane length. It
// wraps [ErrMalformed].
func Malformed(request, answer, want string) error {
	if len(answer) > 80 {
		answer = answer[:80] + "..."
	}
	return fmt.Errorf("%w to %s: %q: want %s", ErrMalformed, request, answer, want)
}
