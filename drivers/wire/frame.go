package wire

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"time"
)

// exchange is one exchange of bytes; the caller holds the turn.
func (c *Conn) exchange(ctx context.Context, request []byte, split Split) ([]byte, error) {
	if len(request) == 0 {
		return c.listen(ctx, split)
	}
	frame, err := c.ask(ctx, request, split)
	if err != nil {
		return nil, fmt.Errorf("% x: %w", cut(request), err)
	}
	c.answers++
	c.unanswered = 0
	return frame, nil
}

func (c *Conn) ask(ctx context.Context, request []byte, split Split) ([]byte, error) {
	if c.line.Handshake == "xon-xoff" && bytes.ContainsAny(request, "\x11\x13") {
		return nil, fmt.Errorf("%w: the handshake xon-xoff takes the bytes 11 and 13 for itself: use another", ErrAddress)
	}
	if err := c.rest(ctx); err != nil {
		return nil, err
	}
	if err := c.inStep(); err != nil {
		return nil, err
	}
	c.out = append(c.out[:0], request...)
	if err := c.write(); err != nil {
		c.doubt = err
		return nil, err
	}
	frame, err := c.readAnswer(ctx, request, split)
	c.touched()
	if err != nil {
		c.doubt = err
	}
	return frame, err
}

// readAnswer collects the frame that answers, behind the echo if there is one.
func (c *Conn) readAnswer(ctx context.Context, request []byte, split Split) ([]byte, error) {
	deadline := c.deadline(ctx)
	c.n = 0
	if c.line.Echo == "on" {
		if err := c.bytesEchoed(ctx, request, deadline); err != nil {
			return nil, err
		}
	}
	frame, err := c.readFrame(ctx, split, deadline)
	if err == nil && c.n > 0 {
		err = fmt.Errorf("%w: % x came behind the answer", ErrInDoubt, cut(c.in[:c.n]))
	}
	return frame, err
}

// listen waits for the next frame of a far end that talks by itself. Nothing
// can be in doubt: each frame says what it is. Of frames that lie there already
// it returns the oldest, so nothing is lost that the system has room for (4 KiB
// on Linux), and nothing is known of how long it lay there: see [Latest].
func (c *Conn) listen(ctx context.Context, split Split) ([]byte, error) {
	frame, err := c.readFrame(ctx, split, c.deadline(ctx))
	if err == nil {
		c.answers++
	}
	return frame, err
}

// readFrame collects one frame, from what is left over of earlier reads first.
func (c *Conn) readFrame(ctx context.Context, split Split, deadline time.Time) ([]byte, error) {
	for {
		frame, err := c.cutFrame(split)
		if frame != nil || err != nil {
			return frame, err
		}
		n, err := c.await(ctx, c.in[c.n:], deadline)
		if errors.Is(err, ErrTimeout) || (err == nil && n == 0) {
			return nil, c.lateFrame()
		}
		if err != nil {
			return nil, err
		}
		c.n += n
	}
}

// cutFrame takes the first frame from the front of what was received; nil while
// there is none. It does not trust what split returns: a slip in the reader of
// one meter must not end the program.
func (c *Conn) cutFrame(split Split) ([]byte, error) {
	skip, length := split(c.in[:c.n])
	if skip < 0 || length < 0 || skip > c.n || length > c.n-skip {
		n := c.n
		c.n = 0
		return nil, fmt.Errorf("%w: %d bytes cannot be %d of noise and a frame of %d: this is a mistake in steadyrail", ErrGarbled, n, skip, length)
	}
	c.discard(skip)
	if length > 0 {
		frame := bytes.Clone(c.in[:length])
		c.discard(length)
		return frame, nil
	}
	if c.n == len(c.in) {
		c.n = 0
		return nil, fmt.Errorf("%w: %d bytes without a frame", ErrGarbled, len(c.in))
	}
	return nil, nil
}

func (c *Conn) lateFrame() error {
	if c.n == 0 {
		return c.late()
	}
	if f, ok := c.port.(fleeting); ok && f.vanished() {
		return fmt.Errorf("%w: its device file has vanished", ErrGone)
	}
	return fmt.Errorf("%w: % x is no whole frame", ErrGarbled, cut(c.in[:c.n]))
}

// discard drops bytes at the front of what was received.
func (c *Conn) discard(n int) {
	copy(c.in, c.in[n:c.n])
	c.n -= n
}
