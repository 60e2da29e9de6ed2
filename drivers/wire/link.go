package wire

import "context"

// Link is what a driver speaks through. [Conn], [Recorder] and [Player]
// satisfy it.
type Link interface {
	// Query sends one line and returns the one line that answers it, without
	// terminator. Errors wrap a sentinel of this package or the context's error.
	// After any error but a refused request the link is in doubt, gone or stuck.
	Query(ctx context.Context, request string) (string, error)
	// Send sends one line that is not answered. It works in doubt, too.
	Send(ctx context.Context, request string) error
	// Exchange sends bytes as they are and returns the frame that answers them,
	// as split finds it; the errors are those of Query. Without a request it
	// listens for the next frame of a far end that talks by itself: nothing is
	// unasked for then, noise before the frame is dropped, and what came behind
	// it stays for the next call. The frame is the caller's to keep.
	Exchange(ctx context.Context, request []byte, split Split) ([]byte, error)
	// Drain reads and throws away until the line is quiet, and ends the doubt.
	Drain(ctx context.Context) error
	// Close gives the link up. Calling it twice is harmless.
	Close() error
}

// Split looks for a frame at the front of what was received so far. It returns
// how many bytes in front of the frame are noise, and how long the frame is; 0
// while it is not complete. What is skipped is not shown to it again. Split
// keeps nothing between calls.
type Split func(received []byte) (skip, length int)

// Dial opens the link of an instrument. It is called again after each loss.
type Dial func(ctx context.Context) (Link, error)

// Whereabouts is what tells one far end from another when it says nothing of
// itself. What is not known is empty.
type Whereabouts struct {
	Adapter string // VID:PID:SERIAL of an adapter that has a serial number of its own
	Path    string // the socket it is plugged into, or the network address
}

// WhereaboutsOf returns what is known of the far end of a link.
func WhereaboutsOf(l Link) Whereabouts {
	if w, ok := l.(interface{ Whereabouts() Whereabouts }); ok {
		return w.Whereabouts()
	}
	return Whereabouts{}
}
