// Package poll asks the instruments of one link, each channel at its own
// interval, and hands what comes back to the bus.
//
// A [Loop] is the one goroutine that may talk to a link. It promises:
//
//   - Slot k of a channel lies at start + k·T + u, with u uniform in ±T/2 and
//     drawn from a seed. So polls neither drift nor fall into step with a
//     periodic fault. A slot that a later one has overtaken is skipped and
//     counted, never made up for in a burst.
//   - Acts and selections take a lane that is looked at between exchanges; on a
//     link with a switchable supply no exchange lasts longer than 250 ms, or than
//     somebody granted an instrument of it.
//   - Every exchange ends as one reading: a value, or a flag that says why not.
//     While an instrument is gone there is one flagged reading per channel for
//     the loss and one for every attempt to reach it, so that silence is seen
//     and the record is not flooded.
//   - After a loss nothing counts until the instrument has connected again and
//     said who it is; another identity than before is no reconnection. One that
//     cannot say who it is, and whose adapter cannot, is in doubt after each
//     connection until [Loop.Confirm]: see [Doubter].
//   - Attempts that fail at once, for want of a port, are repeated at least once
//     a second; those that cost time, at least every five. While others of the
//     link answer, an attempt lasts no longer than the instrument's own answer
//     time-out, and an instrument that let an exchange time out rests for as
//     long as that took: the others keep half of the link at the least.
//   - A channel that streams is listened to whenever nothing else is due. A frame
//     that did not come within its nominal interval is a missed slot.
//   - For the settling time after its input was switched, a channel has no
//     readings.
//
// The application makes a Loop per link and calls [Loop.Run] once. Everything
// else may be called from any goroutine.
package poll

import (
	"context"
	"errors"
	"time"

	"steadyrail/capture"
)

// Instrument is what a loop polls. Its methods are called by the loop's
// goroutine alone, except Info, which is also called by [New]. Close is called
// at the end. After a loss, before Connect is called again, the loop calls
//
//	Drop() error
//
// where there is such a method, and Close where there is none: Drop gives the
// link up and sends nothing, for a supply that was to be switched off at the
// end must not be because an answer was lost, and another instrument may be at
// the other end by now. An instrument may also have
//
//	Resyncs() uint64
//
// the number of times it had to find its place in the answers again.
type Instrument interface {
	Info() capture.InstrumentInfo
	Connect(ctx context.Context) error
	Select(ctx context.Context, ch capture.ChannelID) error
	Measure(ctx context.Context, ch capture.ChannelID) (capture.Reading, error)
	Do(ctx context.Context, act capture.Act) (string, error)
	Close() error
}

// Sink takes the readings. The bus is one.
type Sink interface {
	// ReadBegun files a reading whose measuring began at an instant.
	ReadBegun(r capture.Reading, begun capture.Instant) capture.Instant
	// Post records that a link was lost or is back.
	Post(job string, item capture.Item) (capture.Instant, error)
	// Serves lists the jobs that an instrument's channels serve.
	Serves(instrument string) []string
}

// Doubter is a [Sink] that is told which instruments are in doubt: their
// readings belong to no rail until the doubt is lifted.
type Doubter interface {
	Doubt(instrument string, doubtful bool)
}

// What the answers to questions of a loop wrap.
var (
	ErrDown      = errors.New("the instrument is not connected")
	ErrStopped   = errors.New("polling has stopped")
	ErrWithdrawn = errors.New("given up before it was begun; nothing was sent")
	ErrUnknown   = errors.New("not on this link")
	ErrNoRange   = errors.New("the instrument cannot hold its range")
	ErrReplugged = errors.New("the instrument was connected anew meanwhile")
)

// Options tune a loop. The zero value is ready.
type Options struct {
	// Classify says which flag an error of Measure or Connect stands for:
	// TimedOut, Garbled, Refused, Mismatch or Disconnected. Mismatch and
	// Disconnected end the connection. Nil, or a result of 0, takes a passed
	// deadline for TimedOut and everything else for Disconnected.
	Classify func(error) capture.Flags
	// Transfer says how long an answer of so many characters, terminator
	// included, is on the line of an instrument. Nil: no time.
	Transfer func(instrument string, characters int) time.Duration
	// OnState is told of every change of an instrument's state, on the loop's
	// goroutine. It must not block or call the loop. Nil: nobody.
	OnState func(State)
	// Seed of the dither and the back-off.
	Seed uint64
	// Steady turns the dither off.
	Steady bool
	// Deadline of one exchange in wall time. 0: 250 ms when an instrument of
	// the link takes acts, 3 s otherwise.
	Deadline time.Duration
	// Granted is what somebody wrote that an instrument of the link may take to
	// answer: a Deadline of 0 stands for no less. Wall time.
	Granted time.Duration
	// ConnectDeadline bounds one attempt to connect, and one act, in wall
	// time. 0: 5 s.
	ConnectDeadline time.Duration
	// Patience is how long an instrument is given to answer, in wall time: an
	// attempt to connect lasts no longer while others of the link are up. Nil, or
	// a result of 0: 1 s.
	Patience func(instrument string) time.Duration
	// Adapters, shared by the loops of a bench, keeps two instruments apart whose
	// adapters have the same serial number. Nil: nobody looks.
	Adapters *Adapters
	// SilentAfter is how many exchanges in a row may end without a readable
	// answer before the instrument is taken for lost: whoever answers then may
	// be another one. 0: 5.
	SilentAfter int

	selectDeadline time.Duration
}

// The back-off between attempts to connect, in wall time. An attempt that
// failed within cheap costs nobody anything: with backOffCheap an instrument is
// back within two seconds of its port.
const (
	backOffMin   = 200 * time.Millisecond
	backOffCheap = time.Second
	backOffMax   = 5 * time.Second
	cheap        = 250 * time.Millisecond
)

// ActDeadline bounds an exchange on a link that takes acts, unless more is granted:
// the longest that an act waits for the exchange under way.
const ActDeadline = 250 * time.Millisecond

const (
	defaultEvery    = 200 * time.Millisecond
	defaultPatience = time.Second
)

func (o Options) filled(takesActs bool) Options {
	if o.Deadline == 0 {
		o.Deadline = 3 * time.Second
		if takesActs {
			o.Deadline = ActDeadline
		}
		o.Deadline = max(o.Deadline, o.Granted)
	}
	if o.ConnectDeadline == 0 {
		o.ConnectDeadline = 5 * time.Second
	}
	o.selectDeadline = o.ConnectDeadline
	if takesActs {
		o.selectDeadline = o.Deadline
	}
	if o.SilentAfter == 0 {
		o.SilentAfter = 5
	}
	return o
}

func (o Options) patience(instrument string) time.Duration {
	if o.Patience != nil {
		if d := o.Patience(instrument); d > 0 {
			return d
		}
	}
	return defaultPatience
}

// flag classifies an error.
func (o Options) flag(err error) capture.Flags {
	if o.Classify != nil {
		if f := o.Classify(err) & capture.NoValue; f != 0 {
			return f
		}
	}
	if errors.Is(err, context.DeadlineExceeded) {
		return capture.TimedOut
	}
	return capture.Disconnected
}
