package wire

import "steadyrail/capture"

// The sentinels. Every error of this package wraps one of them, or the
// context's error when the caller gave up. They carry the flags that a reading
// gets which could not be taken because of them, see [capture.Flags].
var (
	// ErrTimeout: no byte of an answer came in time. The link is in doubt.
	ErrTimeout error = &fault{"timed out", capture.TimedOut}
	// ErrGarbled: bytes came that are no line of text. The link is in doubt.
	ErrGarbled error = &fault{"garbled", capture.Garbled}
	// ErrInDoubt: a line may belong to another query. Drain, then resynchronise.
	ErrInDoubt error = &fault{"in doubt", capture.Garbled}
	// ErrGone: the port or the connection has gone away. Open a new one.
	ErrGone error = &fault{"gone", capture.Disconnected}
	// ErrStuck: the operating system does not come back from a write or a close.
	// The link is abandoned; the program must be restarted to use it again.
	ErrStuck error = &fault{"stuck", capture.Disconnected}
	// ErrClosed: Close was called before.
	ErrClosed error = &fault{"closed", capture.Disconnected}
	// ErrBusy: another program, or another link of ours, holds the port.
	ErrBusy error = &fault{"busy", capture.Disconnected}
	// ErrDenied: this user may not open the port.
	ErrDenied error = &fault{"permission denied", capture.Disconnected}
	// ErrNoPort: there is no such port, or nothing listens there.
	ErrNoPort error = &fault{"not found", capture.Disconnected}
	// ErrSettings: the adapter does not do a line setting that was asked.
	ErrSettings error = &fault{"setting refused", capture.Disconnected}
	// ErrAddress: the address or a line setting cannot be understood.
	ErrAddress error = &fault{"bad address", capture.Disconnected}
)

// fault is a sentinel that knows what it does to a reading.
type fault struct {
	text  string
	flags capture.Flags
}

func (f *fault) Error() string { return f.text }

// Flags returns what a reading gets that failed with this error. Whoever turns
// errors into readings finds it with errors.As on interface{ Flags() capture.Flags }.
func (f *fault) Flags() capture.Flags { return f.flags }

// quoted cuts what was received to a length that a message can carry.
const quoted = 80

func cut(b []byte) []byte {
	if len(b) > quoted {
		return b[:quoted]
	}
	return b
}
