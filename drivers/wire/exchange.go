package wire

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"time"
)

// query is one exchange; the caller holds the turn.
func (c *Conn) query(ctx context.Context, request string) (string, error) {
	if err := c.rest(ctx); err != nil {
		return "", err
	}
	if err := c.inStep(); err != nil {
		return "", fmt.Errorf("%q: %w", request, err)
	}
	if err := c.writeLine(request); err != nil {
		c.doubt = err
		return "", err
	}
	answer, err := c.readLine(ctx, request)
	c.touched()
	if err == nil && answer == request && c.line.Echo != "on" {
		err = fmt.Errorf("%w: it sends back what it was sent: switch its echo off, or say echo=on if it cannot be", ErrGarbled)
	}
	if err != nil {
		c.doubt = err
		return "", fmt.Errorf("%q: %w", request, err)
	}
	c.answers++
	c.unanswered = 0
	return answer, nil
}

// inStep refuses a query while an earlier answer may still come, and looks for
// bytes that nobody asked for. Lone line ends carry nothing and are dropped.
func (c *Conn) inStep() error {
	if errors.Is(c.doubt, ErrInDoubt) {
		return c.doubt
	}
	if c.doubt != nil {
		return fmt.Errorf("%w: not drained since: %v", ErrInDoubt, c.doubt)
	}
	n, err := c.port.glance(c.in)
	if err != nil {
		return c.gone(err)
	}
	if stale := bytes.Trim(c.in[:n], "\r\n"); len(stale) > 0 {
		c.doubt = fmt.Errorf("%w: %q came unasked", ErrInDoubt, cut(stale))
	}
	return c.doubt
}

// readLine collects the line that answers, behind the echo if there is one.
func (c *Conn) readLine(ctx context.Context, request string) (string, error) {
	deadline := c.deadline(ctx)
	c.n = 0
	if c.line.Echo == "on" {
		if err := c.lineEchoed(ctx, request, deadline); err != nil {
			return "", err
		}
	}
	end, err := c.lineEnd(ctx, deadline)
	if err != nil {
		return "", err
	}
	return c.accept(c.in[:end], c.in[min(end+1, c.n):c.n])
}

// deadline is when an answer must be there.
func (c *Conn) deadline(ctx context.Context) time.Time {
	deadline := time.Now().Add(c.line.AnswerTimeout)
	if d, ok := ctx.Deadline(); ok && d.Before(deadline) {
		return d
	}
	return deadline
}

// lineEnd reads until a whole line lies at the front of what was received, and
// returns where it ends. On a port that carries messages that is the end of the
// message: what comes behind a line within it was not asked for.
func (c *Conn) lineEnd(ctx context.Context, deadline time.Time) (int, error) {
	last := c.ending[len(c.ending)-1]
	messages, isMessenger := c.port.(messenger)
	from, whole := 0, false
	for {
		end := bytes.IndexByte(c.in[from:c.n], last)
		switch {
		case end >= 0 && (!isMessenger || whole):
			return from + end, nil
		case whole:
			return c.n, nil
		case c.n > c.line.Limit:
			return 0, fmt.Errorf("%w: a line of more than %d bytes: %q", ErrGarbled, c.line.Limit, cut(c.in[:c.n]))
		case !isMessenger:
			from = c.n
		}
		n, err := c.await(ctx, c.in[c.n:], deadline)
		if errors.Is(err, ErrTimeout) || (err == nil && n == 0) {
			return 0, c.late() // the context's deadline and ours are the same to the line
		}
		if err != nil {
			return 0, err
		}
		c.n += n
		whole = isMessenger && messages.ended()
	}
}

// await reads what comes next, in steps of the read time-out, so that a
// cancelled context and Close are noticed. Nothing until the deadline is 0.
func (c *Conn) await(ctx context.Context, into []byte, deadline time.Time) (int, error) {
	for {
		wait := time.Until(deadline)
		if wait <= 0 {
			return 0, nil
		}
		n, err := c.port.read(into, min(wait, c.line.ReadTimeout))
		switch {
		case err != nil:
			return 0, c.gone(err)
		case n > 0:
			return n, nil
		case c.closing.Load():
			return 0, ErrClosed
		case ctx.Err() != nil:
			return 0, gaveUp(ctx)
		}
	}
}

// late says that an answer did not come. A network instrument that serves one
// client, and has one, may accept a second and stay silent.
func (c *Conn) late() error {
	switch f, ok := c.port.(fleeting); {
	case ok && f.vanished():
		return fmt.Errorf("%w: its device file has vanished", ErrGone)
	case c.n == 0 && c.lan && c.answers == 0:
		return fmt.Errorf("%w: connected, but silent: someone else may be connected to it, or this is not its port for commands", ErrTimeout)
	case c.n == 0:
		return ErrTimeout
	}
	return fmt.Errorf("%w: %q came without an end", ErrGarbled, cut(c.in[:c.n]))
}

// accept takes a line if it is text and nothing came behind it: else it may be
// the answer to another query, with ours still to come.
func (c *Conn) accept(line, rest []byte) (string, error) {
	line = bytes.Trim(line, "\r\n")
	if rest = bytes.Trim(rest, "\r\n"); len(rest) > 0 {
		return "", fmt.Errorf("%w: %q and, behind it, %q", ErrInDoubt, cut(line), cut(rest))
	}
	for _, b := range line {
		if (b < ' ' && b != '\t') || b > '~' {
			return "", fmt.Errorf("%w: %q", ErrGarbled, cut(line))
		}
	}
	return string(line), nil
}

// drain calls a far end to order that can be, and throws away until nothing
// came for the quiet time. A far end that talks
// without end is an error, and the doubt stays.
func (c *Conn) drain(ctx context.Context) error {
	c.n = 0
	if p, ok := c.port.(clearer); ok {
		if err := p.clear(); err != nil {
			return c.gone(err)
		}
	}
	until := time.Now().Add(c.line.AnswerTimeout + c.line.quiet())
	for {
		n, err := c.await(ctx, c.in, time.Now().Add(c.line.quiet()))
		switch {
		case err != nil:
			return err
		case n == 0:
			c.doubt = nil
			return nil
		case time.Now().After(until):
			return fmt.Errorf("%w: it talks without end: %q", ErrGarbled, cut(c.in[:n]))
		}
	}
}

// gone wraps an error of the descriptor, unless the port knows better. A network
// instrument that hangs up before its first answer usually serves one client,
// and has one.
func (c *Conn) gone(err error) error {
	if f := (*fault)(nil); errors.As(err, &f) {
		return err
	}
	if c.lan && c.answers == 0 {
		return fmt.Errorf("%w before its first answer: someone else may be connected to it (%w)", ErrGone, err)
	}
	return fmt.Errorf("%w: %w", ErrGone, err)
}
