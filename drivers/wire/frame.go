package wire

import (
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
	if err := c.inStep(); err != nil {
		return nil, fmt.Errorf("% x: %w", cut(request), err)
	}
	c.out = append(c.out[:0], request...)
	if err := c.write(); err != nil {
		return nil, err
	}
	c.n = 0
	frame, err := c.readFrame(ctx, split)
	if err == nil && c.n > 0 {
		err = fmt.Errorf("%w: % x came behind the answer", ErrInDoubt, cut(c.in[:c.n]))
	}
	if err != nil {
		c.doubt = err
		return nil, fmt.Errorf("% x: %w", cut(request), err)
	}
	c.answers++
	c.unanswered = 0
	return frame, nil
}

// listen waits for the next frame of a far end that talks by itself. Nothing
// can be in doubt: each frame says what it is.
func (c *Conn) listen(ctx context.Context, split Split) ([]byte, error) {
	frame, err := c.readFrame(ctx, split)
	if err == nil {
		c.answers++
	}
	return frame, err
}

// readFrame collects one frame, from what is left over of earlier reads first.
func (c *Conn) readFrame(ctx context.Context, split Split) ([]byte, error) {
	deadline := time.Now().Add(c.line.AnswerTimeout)
	if d, ok := ctx.Deadline(); ok && d.Before(deadline) {
		deadline = d
	}
	for {
		skip, length := split(c.in[:c.n])
		c.discard(skip)
		if length > 0 {
			frame := append([]byte(nil), c.in[:length]...)
			c.discard(length)
			return frame, nil
		}
		if c.n == len(c.in) {
			c.n = 0
			return nil, fmt.Errorf("%w: %d bytes without a frame", ErrGarbled, len(c.in))
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

func (c *Conn) lateFrame() error {
	if c.n == 0 {
		return ErrTimeout
	}
	return fmt.Errorf("%w: % x is no whole frame", ErrGarbled, cut(c.in[:c.n]))
}

// discard drops bytes at the front of what was received.
func (c *Conn) discard(n int) {
	copy(c.in, c.in[n:c.n])
	c.n -= n
}
