package drivers

import (
	"context"
	"errors"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/session"
	"steadyrail/drivers/wire"
)

// Instrument is a thing on a link. Connect, Select, Measure, Do, Drop and Close
// are called by one goroutine; Info and Resyncs by any.
type Instrument interface {
	// Info describes the instrument. The identity is filled after Connect.
	Info() capture.InstrumentInfo
	// Connect opens the link, compares the identity and sets up. It may be
	// called again after a loss. It changes no output and no set-point.
	Connect(ctx context.Context) error
	// Select sets a shared input to one channel's function, once.
	Select(ctx context.Context, ch capture.ChannelID) error
	// Measure takes one reading: everything but Measured, HalfWidth, Ordinal.
	Measure(ctx context.Context, ch capture.ChannelID) (capture.Reading, error)
	// Do carries out an act, confirmed by reading back, and says so.
	Do(ctx context.Context, act capture.Act) (string, error)
	// Resyncs counts how often it had to find its place in the answers again.
	Resyncs() uint64
	// Transfer returns how long so many characters are on the line.
	Transfer(characters int) time.Duration
	// Drop gives the link up and sends nothing.
	Drop() error
	// Close is the end: it switches the output off first if the configuration
	// says so, then gives the link up.
	Close() error
}

// The sentinels that errors of instruments wrap, of this room and of the rooms
// behind it.
var (
	ErrMismatch     = session.ErrMismatch     // another instrument answered than was expected
	ErrRefused      = session.ErrRefused      // the instrument reported an error, or did not confirm
	ErrMalformed    = session.ErrMalformed    // an answer that cannot be read
	ErrNotAllowed   = session.ErrNotAllowed   // the configuration does not allow it; nothing was sent
	ErrNoChannel    = session.ErrNoChannel    // no such channel, or its input is set to another
	ErrNotConnected = session.ErrNotConnected // Connect has not succeeded since the last loss

	ErrTimeout = wire.ErrTimeout // no answer in time
	ErrGarbled = wire.ErrGarbled // bytes that are no line of text
	ErrInDoubt = wire.ErrInDoubt // a line that may belong to another query
	ErrGone    = wire.ErrGone    // the port went away
	ErrStuck   = wire.ErrStuck   // the system hangs in this port: restart needed
	ErrClosed  = wire.ErrClosed  // the link was closed
	ErrBusy    = wire.ErrBusy    // another program holds the port
	ErrDenied  = wire.ErrDenied  // this user may not open the port
	ErrNoPort  = wire.ErrNoPort  // no such port, or nothing listens there
	ErrAddress = wire.ErrAddress // the link cannot be understood

	// ErrConfig is wrapped by everything that Open refuses in a configuration.
	ErrConfig = errors.New("bad instrument configuration")
	// ErrModel is wrapped by every mistake in a model file.
	ErrModel = errors.New("bad model file")
)

// Flags returns the flags of a reading that failed with err: TimedOut, Garbled,
// Refused, Mismatch or Disconnected; 0 when err is none of an instrument's. It
// fits the poller's Classify option.
func Flags(err error) capture.Flags {
	var f interface{ Flags() capture.Flags }
	if errors.As(err, &f) {
		return f.Flags()
	}
	return 0
}
