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
	// Drain reads and throws away until the line is quiet, and ends the doubt.
	Drain(ctx context.Context) error
	// Close gives the link up. Calling it twice is harmless.
	Close() error
}
