package wire

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"
)

// Conn is a link on a serial port or a TCP connection. Make one with [Open].
// All methods may be called from several goroutines; exchanges follow one
// another. The zero value is of no use.
//
// The descriptor belongs to whoever holds the turn, and to nobody else: that
// goroutine alone reads, writes and closes it. Handing each exchange to a
// goroutine of the link's own was tried and costs two to four times the
// processor time of the bare exchange; the turn costs next to nothing.
type Conn struct {
	where       string
	whereabouts Whereabouts
	line        Line
	lan         bool   // the far end is in the network and may have another client
	unset       string // see Unset

	turn    chan struct{}         // holds one token: who has put it there owns what is below
	closing atomic.Bool           // Close was called: give up waiting
	curt    atomic.Bool           // no closing phrases: Abandon was called
	left    atomic.Bool           // Close has stopped waiting for the turn: whoever has it closes
	fate    atomic.Pointer[error] // why there will be no more exchanges
	closed  chan struct{}         // closed when the descriptor is

	port       port
	ending     string
	in         []byte // one line being received
	n          int    // bytes of in that are filled
	out        []byte
	doubt      error // why the next line may belong to something else; nil: in step
	answers    uint64
	unanswered int       // bytes sent since the far end was last heard
	busy       time.Time // when the last byte went over the line; kept only if it asks for pauses
	looked     time.Time // when the port was last read empty, see Latest
}

// Open opens the address with the line that a model asks for; what the address
// itself says wins. The caller closes the Conn. Errors wrap [ErrNoPort],
// [ErrBusy], [ErrDenied], [ErrAddress] or the context's error, and say what to
// do.
func Open(ctx context.Context, a Address, l Line) (*Conn, error) {
	l = DefaultLine().With(l).With(a.Line)
	if err := l.Validate(); err != nil {
		return nil, err
	}
	p, err := openPort(ctx, a, l)
	if err != nil {
		return nil, err
	}
	c := newConn(a.String(), p, l)
	c.lan = kinds()[a.Kind].lan
	c.whereabouts = whereabouts(a)
	if s, ok := p.(*serialPort); ok {
		c.unset = s.not
	}
	if err := c.open(ctx); err != nil {
		return nil, err
	}
	return c, nil
}

func openPort(ctx context.Context, a Address, l Line) (port, error) {
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("open %s: %w", a, err)
	}
	k, known := kinds()[a.Kind]
	if !known {
		return nil, fmt.Errorf("%w: no link of kind %q", ErrAddress, a.Kind)
	}
	return k.dial(ctx, a, l)
}

func newConn(where string, p port, l Line) *Conn {
	return &Conn{
		where: where, line: l, turn: make(chan struct{}, 1), closed: make(chan struct{}),
		port: p, ending: l.ending(), in: make([]byte, l.Limit+len("\r\n")), looked: time.Now(),
	}
}

// Query sends one line and returns its answer, see [Link].
func (c *Conn) Query(ctx context.Context, request string) (string, error) {
	if err := c.enter(ctx, request); err != nil {
		return "", err
	}
	answer, err := c.query(ctx, request)
	return answer, c.leave(err)
}

// Send sends one line that is not answered, see [Link].
func (c *Conn) Send(ctx context.Context, request string) error {
	if err := c.enter(ctx, request); err != nil {
		return err
	}
	return c.leave(c.send(ctx, request))
}

// Exchange sends bytes and returns the frame that answers, see [Link].
func (c *Conn) Exchange(ctx context.Context, request []byte, split Split) ([]byte, error) {
	if err := c.enter(ctx, ""); err != nil {
		return nil, err
	}
	frame, err := c.exchange(ctx, request, split)
	return frame, c.leave(err)
}

// Whereabouts tells this far end from others, see [Whereabouts].
func (c *Conn) Whereabouts() Whereabouts { return c.whereabouts }

// Drain reads and throws away until the line is quiet, see [Link]. A line that
// does not become quiet within its answer time-out is [ErrGarbled].
func (c *Conn) Drain(ctx context.Context) error {
	if err := c.enter(ctx, ""); err != nil {
		return err
	}
	return c.leave(c.drain(ctx))
}

// Alive reports whether exchanges are still possible: not closed, gone or stuck.
func (c *Conn) Alive() bool { return c.over() == nil }

// enter takes the turn, unless there is nothing to do with it.
func (c *Conn) enter(ctx context.Context, request string) error {
	if !sendable(request) {
		return fmt.Errorf("%s: request %q: only printable ASCII can be sent", c.where, request)
	}
	select {
	case c.turn <- struct{}{}:
	default:
		select {
		case c.turn <- struct{}{}:
		case <-ctx.Done():
			return fmt.Errorf("%s: waiting for the link: %w", c.where, gaveUp(ctx))
		}
	}
	err := c.over()
	if err == nil && ctx.Err() != nil {
		err = gaveUp(ctx)
	}
	if err != nil {
		<-c.turn
		return fmt.Errorf("%s: %w", c.where, err)
	}
	return nil
}

// leave gives the turn back. A port that is gone is dropped before anyone hears
// of the loss, so that it can be opened again at once: a held descriptor makes
// the adapter come back under another name.
func (c *Conn) leave(err error) error {
	if err != nil {
		err = fmt.Errorf("%s: %w", c.where, err)
		if errors.Is(err, ErrGone) {
			c.end(ErrGone)
			_ = c.closePort() // ErrStuck at worst, and the loss is told already
		}
	}
	<-c.turn
	if c.left.Load() {
		c.closeLate()
	}
	return err
}

// over returns why there can be no exchange any more.
func (c *Conn) over() error {
	if err := c.fate.Load(); err != nil {
		return *err
	}
	if c.closing.Load() {
		return ErrClosed
	}
	return nil
}

// end settles why there will be no more exchanges; the first reason stays. It
// reports whether it was the first.
func (c *Conn) end(err error) bool { return c.fate.CompareAndSwap(nil, &err) }

// gaveUp turns a context's end into an error: a passed deadline is a time-out
// like any other.
func gaveUp(ctx context.Context) error {
	if errors.Is(ctx.Err(), context.DeadlineExceeded) {
		return ErrTimeout
	}
	return context.Cause(ctx)
}
