package wire

import (
	"context"
	"time"
)

// Latest listens like [Link] Exchange without a request, but of frames that
// came while nobody listened it returns the newest and drops the others. Waited
// is how long at most that frame lay unread, 0 for one whose end was waited for:
// whoever stamps it takes this off its time, as an uncertainty from 0 to waited.
// Links that do not know, a [Player] among them, return the next frame and 0.
func Latest(ctx context.Context, l Link, split Split) (frame []byte, waited time.Duration, err error) {
	if in, ok := l.(interface {
		Latest(context.Context, Split) ([]byte, time.Duration, error)
	}); ok {
		return in.Latest(ctx, split)
	}
	frame, err = l.Exchange(ctx, nil, split)
	return frame, 0, err
}

// Latest returns the newest frame of a far end that talks by itself, see the
// function of this name.
func (c *Conn) Latest(ctx context.Context, split Split) ([]byte, time.Duration, error) {
	if err := c.enter(ctx, ""); err != nil {
		return nil, 0, err
	}
	frame, waited, err := c.latest(ctx, split)
	return frame, waited, c.leave(err)
}

// Latest passes the listening on and writes it down as an exchange.
func (r *Recorder) Latest(ctx context.Context, split Split) (frame []byte, waited time.Duration, err error) {
	frame, err = r.exchanged(ctx, nil, split, func(ctx context.Context, _ []byte, split Split) ([]byte, error) {
		var err error
		frame, waited, err = Latest(ctx, r.link, split)
		return frame, err
	})
	return frame, waited, err
}

// rounds bounds how much of a backlog is looked through: 64 KiB are more than
// any system keeps for a serial port.
const rounds = 64

// latest first takes all that lies there, then waits if no frame is among it.
func (c *Conn) latest(ctx context.Context, split Split) (newest []byte, waited time.Duration, err error) {
	since := c.looked
	for more, round := true, 0; more && round < rounds; round++ {
		free := len(c.in) - c.n
		n, err := c.port.glance(c.in[c.n:])
		if err != nil {
			return nil, 0, c.gone(err)
		}
		c.n += n
		more = n == free
		if frame, err := c.lastFrame(split); err != nil {
			return nil, 0, err
		} else if frame != nil {
			newest = frame
		}
	}
	c.looked = time.Now()
	if newest != nil {
		c.answers++
		return newest, c.looked.Sub(since), nil
	}
	newest, err = c.listen(ctx, split)
	if err == nil {
		c.looked = time.Now()
	}
	return newest, 0, err
}

// lastFrame cuts all frames off and returns the last; nil if there is none.
func (c *Conn) lastFrame(split Split) (last []byte, err error) {
	for {
		frame, err := c.cutFrame(split)
		if frame == nil || err != nil {
			return last, err
		}
		last = frame
	}
}
