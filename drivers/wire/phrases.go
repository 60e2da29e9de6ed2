package wire

import (
	"bytes"
	"context"
	"fmt"
	"time"
)

// open sends the opening phrases. A link that cannot take them is closed.
func (c *Conn) open(ctx context.Context) error {
	for _, phrase := range c.line.Opening {
		if err := c.Send(ctx, phrase); err != nil {
			_ = c.Abandon() // the first error is the one to tell
			return fmt.Errorf("opening phrase %q: %w", phrase, err)
		}
	}
	return nil
}

// Abandon is Close without a word to whoever is at the other end, for [Abandon].
func (c *Conn) Abandon() error {
	c.curt.Store(true)
	return c.Close()
}

// Abandon closes a link that was lost, or whose far end may be somebody else by
// now: the closing phrases are not sent.
func Abandon(l Link) error {
	if a, ok := l.(interface{ Abandon() error }); ok {
		return a.Abandon()
	}
	return l.Close()
}

// farewell sends the closing phrases of a link that still works; the caller
// holds the turn. That the far end does not take them must not keep anybody
// from closing, so nothing is read and the first error ends it.
func (c *Conn) farewell() {
	if c.curt.Load() || c.fate.Load() != nil {
		return
	}
	for _, phrase := range c.line.Closing {
		time.Sleep(c.pauseLeft())
		if c.writeLine(phrase) != nil {
			return
		}
	}
}

// send sends one line that is not answered; the caller holds the turn. In doubt
// an echo is not looked for: Drain will throw it away, and switching an output
// off must not wait.
func (c *Conn) send(ctx context.Context, request string) error {
	if err := c.rest(ctx); err != nil {
		return err
	}
	if err := c.writeLine(request); err != nil || c.line.Echo != "on" || c.doubt != nil {
		return err
	}
	c.n = 0
	err := c.lineEchoed(ctx, request, c.deadline(ctx))
	if err == nil {
		err = c.nothingBehind()
	}
	if err != nil {
		c.doubt = err
		return fmt.Errorf("%q: %w", request, err)
	}
	return nil
}

func (c *Conn) nothingBehind() error {
	if rest := bytes.Trim(c.in[:c.n], "\r\n"); len(rest) > 0 {
		return fmt.Errorf("%w: %q came unasked", ErrInDoubt, cut(rest))
	}
	return nil
}

// rest waits until the pause that the far end needs is over.
func (c *Conn) rest(ctx context.Context) error {
	for left := c.pauseLeft(); left > 0; left = c.pauseLeft() {
		wait := time.NewTimer(min(left, c.line.ReadTimeout))
		select {
		case <-wait.C:
		case <-ctx.Done():
			wait.Stop()
			return gaveUp(ctx)
		}
		if c.closing.Load() {
			return ErrClosed
		}
	}
	return nil
}

func (c *Conn) pauseLeft() time.Duration {
	if c.line.Pause == 0 || c.busy.IsZero() {
		return 0
	}
	return c.line.Pause - time.Since(c.busy)
}

// touched notes that the line was in use just now.
func (c *Conn) touched() {
	if c.line.Pause > 0 {
		c.busy = time.Now()
	}
}

// lineEchoed takes the echo of a line from the front of what comes, and
// compares it: two instruments that talk at once on one pair show there.
func (c *Conn) lineEchoed(ctx context.Context, request string, deadline time.Time) error {
	end, err := c.lineEnd(ctx, deadline)
	if err != nil {
		return fmt.Errorf("waiting for the echo: %w", err)
	}
	if got := bytes.Trim(c.in[:end], "\r\n"); string(got) != request {
		return fmt.Errorf("%w: the echo is %q: is the echo of this adapter or instrument switched on, and alone on its line?", ErrGarbled, cut(got))
	}
	c.discard(min(end+1, c.n))
	return nil
}

// bytesEchoed is lineEchoed for bytes.
func (c *Conn) bytesEchoed(ctx context.Context, request []byte, deadline time.Time) error {
	for done := 0; done < len(request); {
		k := min(c.n, len(request)-done)
		if !bytes.Equal(c.in[:k], request[done:done+k]) {
			return fmt.Errorf("%w: the echo is % x: is the echo of this adapter switched on, and alone on its line?", ErrGarbled, cut(c.in[:c.n]))
		}
		c.discard(k)
		if done += k; done == len(request) {
			break
		}
		n, err := c.await(ctx, c.in[c.n:], deadline)
		if err == nil && n == 0 {
			err = ErrTimeout
		}
		if err != nil {
			return fmt.Errorf("waiting for the echo: %w", err)
		}
		c.n += n
	}
	return nil
}
