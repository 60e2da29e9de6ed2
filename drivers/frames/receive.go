package frames

import (
	"bytes"
	"context"
	"fmt"

	"steadyrail/drivers/wire"
)

// mostTries bounds the wait for frames that agree, whatever the time-outs.
const mostTries = 16

// agreed returns a frame that came as often in a row as the plan wants.
func (d *Driver) agreed(ctx context.Context) ([]byte, error) {
	for range mostTries {
		frame, err := d.frame(ctx)
		if err != nil {
			d.forget()
			return nil, err
		}
		if d.last != nil && bytes.Equal(frame, d.last) {
			d.alike++
		} else {
			d.last, d.alike = frame, 1
		}
		if d.alike >= d.plan.Agree {
			return frame, nil
		}
	}
	return nil, fmt.Errorf("%w: no %d frames in a row are alike: the reading moves, or the line is bad", ErrMalformed, d.plan.Agree)
}

func (d *Driver) forget() { d.last, d.alike = nil, 0 }

// frame returns the next whole frame, read or not.
func (d *Driver) frame(ctx context.Context) ([]byte, error) {
	if d.Link() == nil {
		return nil, ErrNotConnected
	}
	if d.doubt {
		if err := d.Link().Drain(ctx); err != nil {
			return nil, err
		}
		d.doubt = false
	}
	for {
		frame, err := d.receive(ctx)
		if err != nil {
			d.loose, d.doubt = d.decoder.torn(), len(d.plan.Ask) > 0
			d.Resynced()
			return nil, err
		}
		d.length.Store(int64(len(frame)))
		if !d.loose || len(d.plan.Ask) > 0 {
			return frame, nil
		}
		d.loose = false // the frame behind this one has its beginning
	}
}

func (d *Driver) receive(ctx context.Context) ([]byte, error) {
	if len(d.plan.Ask) > 0 {
		return d.Link().Exchange(ctx, d.plan.Ask, d.next)
	}
	frame, _, err := wire.Latest(ctx, d.Link(), d.split)
	return frame, err
}

// next is the decoder's, and notes that there is somebody.
func (d *Driver) next(received []byte) (skip, length int) {
	d.heard = d.heard || len(received) > 0
	return d.decoder.next(received)
}

// split finds the frame to take. Of two and more that have come already, all
// are of the past: they are skipped, and the next one is waited for.
func (d *Driver) split(received []byte) (skip, length int) {
	skip, length = d.next(received)
	if length == 0 {
		return skip, 0
	}
	for behind := skip + length; ; {
		more, n := d.decoder.next(received[behind:])
		if n == 0 {
			if behind == skip+length {
				return skip, length
			}
			return behind, 0
		}
		behind += more + n
	}
}
