package wire

import (
	"fmt"
	"sync/atomic"
	"time"
)

// grace is how long Close waits for the system, and for an exchange to notice.
const grace = 500 * time.Millisecond

// writeLine sends a request and its terminator; the caller holds the turn.
func (c *Conn) writeLine(request string) error {
	c.out = append(append(c.out[:0], request...), c.ending...)
	return c.write()
}

// write sends what is in out; the caller holds the turn.
//
// A write can only hang when the system's buffer is full. No system's buffer is
// smaller than [chunk], and what was answered has left it; so while no more
// than that is unanswered, the caller writes in place. Everything else is
// written aside, where it can be abandoned.
func (c *Conn) write() error {
	c.unanswered += len(c.out)
	var err error
	if c.unanswered <= inPlace {
		err = c.port.write(c.out)
	} else {
		err = c.writeAside()
	}
	c.touched()
	if err == nil || c.fate.Load() != nil {
		return err
	}
	return c.gone(err)
}

// The states of a write aside.
const (
	writing int32 = iota
	written
	abandoned
)

// writeAside writes in a goroutine that takes the turn's rights with it if it
// has to be abandoned: nobody touches the descriptor then, and should the
// system come back, that goroutine closes it and ends.
func (c *Conn) writeAside() error {
	var state atomic.Int32
	done := make(chan error, 1)
	out := append([]byte(nil), c.out...)
	go func() {
		err := c.port.write(out)
		if state.CompareAndSwap(writing, written) {
			done <- err
			return
		}
		_ = c.port.close() // nobody is left to tell
		close(c.closed)
	}()
	limit := time.NewTimer(c.line.WriteTimeout)
	defer limit.Stop()
	select {
	case err := <-done:
		return err
	case <-limit.C:
	}
	if !state.CompareAndSwap(writing, abandoned) {
		return <-done
	}
	err := fmt.Errorf("%w: the system does not come back from writing to this port: unplug the adapter, or restart steadyrail", ErrStuck)
	c.end(err)
	return err
}

// Close ends the exchange in flight, then closes the descriptor. Calling it
// twice is harmless. The error is [ErrStuck] when the system does not come back
// from a write or from closing.
func (c *Conn) Close() error {
	c.closing.Store(true)
	limit := time.NewTimer(c.line.ReadTimeout + grace)
	defer limit.Stop()
	select {
	case c.turn <- struct{}{}:
	case <-limit.C: // a device clear, or a write aside that its own limit will abandon
		c.left.Store(true)
		c.closeLate()
		return fmt.Errorf("close %s: %w", c.where, ErrStuck)
	}
	defer func() { <-c.turn }()
	c.farewell()
	if c.end(ErrClosed) {
		return c.closePort()
	}
	select {
	case <-c.closed:
		return nil
	case <-limit.C:
		return fmt.Errorf("close %s: %w", c.where, ErrStuck)
	}
}

// closeLate closes what Close has stopped waiting for, if nobody has the turn.
// Close calls it behind its mark, and whoever gives the turn back looks at the
// mark afterwards: one of the two finds the turn free.
func (c *Conn) closeLate() {
	select {
	case c.turn <- struct{}{}:
	default:
		return
	}
	if c.end(ErrClosed) {
		_ = c.closePort() // nobody is left to tell
	}
	<-c.turn
}

// closePort closes the descriptor, once; the caller holds the turn and has
// settled the fate. Closing can hang for half a minute when characters wait to
// be sent, so it is not waited for longer than the grace.
func (c *Conn) closePort() error {
	var err error
	go func() {
		err = c.port.close()
		close(c.closed)
	}()
	limit := time.NewTimer(grace)
	defer limit.Stop()
	select {
	case <-c.closed:
		if err != nil {
			return fmt.Errorf("close %s: %w", c.where, err)
		}
		return nil
	case <-limit.C:
		return fmt.Errorf("close %s: %w", c.where, ErrStuck)
	}
}
