package frames

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/session"
	"steadyrail/drivers/wire"
)

// Options make a [Driver].
type Options struct {
	Info   capture.InstrumentInfo // without identity and channels
	Plan   Plan
	Expect capture.Identity // what is empty is not compared
	Every  time.Duration    // interval of all channels; 0: the plan's
	Dial   wire.Dial
	Baud   int // of the line, for Transfer; 0: takes no time
}

// Driver is one meter. Use [New]. Only Info, Resyncs and Transfer are safe for
// use by other goroutines than the one that measures.
type Driver struct {
	*session.Session
	plan    Plan
	decoder decoder
	loose   bool   // the next frame may have lost its beginning
	doubt   bool   // with Ask: an answer may still be under way
	last    []byte // the newest frame, for Agree; nil: none
	alike   int    // how many frames in a row were like last
	heard   bool   // bytes have come since the link was opened
	length  atomic.Int64
}

// New makes a driver. Nothing is opened before Connect.
func New(o Options) (*Driver, error) {
	if err := o.Plan.Check(); err != nil {
		return nil, err
	}
	decoder, err := o.Plan.decoder()
	if err != nil {
		return nil, err
	}
	var channels []capture.ChannelInfo
	for _, c := range o.Plan.Channels {
		info := c.Info
		info.Group, info.Streams = dial, len(o.Plan.Ask) == 0
		info.Runs = !info.Streams // what is asked for is its display
		channels = append(channels, info)
	}
	return &Driver{
		Session: session.New(session.Options{Info: o.Info, Channels: channels, Expect: o.Expect, Every: o.Every, Dial: o.Dial, Baud: o.Baud}),
		plan:    o.Plan, decoder: decoder,
	}, nil
}

// Connect opens the link and listens until a frame can be read. The meter is
// known by its adapter or its socket. On any error the link is given up again.
func (d *Driver) Connect(ctx context.Context) error {
	if err := d.Open(ctx); err != nil {
		return fmt.Errorf("%s: connect: %w", d.Name(), err)
	}
	d.loose, d.doubt = d.decoder.torn(), len(d.plan.Ask) > 0
	d.heard = false
	d.forget()
	err := d.hear(ctx)
	if err == nil {
		err = d.Arrive(capture.Identity{})
	}
	if err != nil {
		_ = d.Drop() // the cause is err
		return fmt.Errorf("%s: connect: %w", d.Name(), err)
	}
	return nil
}

// hear waits for the first frame that can be read, whatever the dial is at.
func (d *Driver) hear(ctx context.Context) error {
	listen := d.plan.Listen
	if listen == 0 {
		listen = DefaultListen
	}
	until := time.Now().Add(listen)
	ctx, cancel := context.WithDeadline(ctx, until)
	defer cancel()
	for {
		frame, err := d.frame(ctx)
		if err == nil {
			if _, err = d.decoder.read(frame); err == nil || errors.Is(err, ErrRefused) {
				return nil // a display without a figure is a meter all the same
			}
		}
		switch again := time.Now().Before(until) && ctx.Err() == nil; {
		case errors.Is(err, wire.ErrTimeout) && again, errors.Is(err, wire.ErrGarbled) && again, errors.Is(err, ErrMalformed) && again:
		case errors.Is(err, wire.ErrTimeout) && !d.heard:
			return fmt.Errorf("nothing is being sent: switch the meter on, and its sending, which often goes off with the meter: %w", err)
		case errors.Is(err, wire.ErrTimeout), errors.Is(err, wire.ErrGarbled), errors.Is(err, ErrMalformed):
			return fmt.Errorf("what is being sent cannot be read: check the model and the line settings: %w", err)
		default:
			return err
		}
	}
}

// Select makes sure that there is such a channel. Nothing is sent: the dial is
// turned by hand, and each frame says where it is.
func (d *Driver) Select(_ context.Context, id capture.ChannelID) error {
	_, err := d.Channel(id)
	if err == nil && d.Link() == nil {
		err = ErrNotConnected
	}
	if err != nil {
		return d.Failed("select "+id.Input(), err)
	}
	return nil
}

// Measure waits for the next frame. It fills everything but Measured, HalfWidth
// and Ordinal. When the display shows another quantity than the channel's the
// error wraps [ErrNoChannel]: the dial is elsewhere, and nothing is wrong with
// the link.
func (d *Driver) Measure(ctx context.Context, id capture.ChannelID) (capture.Reading, error) {
	i, err := d.Channel(id)
	var r capture.Reading
	if err == nil {
		r, err = d.measure(ctx, &d.plan.Channels[i].Info, id)
	}
	if err != nil {
		return capture.Reading{}, d.Failed("measure "+id.Input(), err)
	}
	return r, nil
}

func (d *Driver) measure(ctx context.Context, c *capture.ChannelInfo, id capture.ChannelID) (capture.Reading, error) {
	frame, err := d.agreed(ctx)
	if err != nil {
		return capture.Reading{}, err
	}
	shown, err := d.decoder.read(frame)
	if err != nil {
		if errors.Is(err, ErrMalformed) {
			d.forget()
			d.Resynced()
		}
		return capture.Reading{}, err
	}
	if shown.Quantity != c.Quantity {
		return capture.Reading{}, fmt.Errorf("%w here: the dial is at %s: turn it to %s", ErrNoChannel, d.position(shown.Quantity), d.position(c.Quantity))
	}
	r := capture.Reading{
		Channel: id, Quantity: c.Quantity, Value: shown.Value, Text: shown.Text, Resolution: shown.Resolution, Flags: shown.Flags,
	}
	if r.HasValue() {
		r.Range = session.RangeOf(c.Accuracy, r.Value, r.Resolution, 0)
	}
	return r, nil
}

// position names the dial's position for a quantity as the model does.
func (d *Driver) position(q capture.Quantity) string {
	for _, c := range d.plan.Channels {
		if c.Info.Quantity == q {
			return string(c.Info.ID)
		}
	}
	return q.String() + ", which the model has no channel for"
}

// Transfer returns how long a whole frame is on the line. How many characters of
// it the caller has seen in a reading does not matter.
func (d *Driver) Transfer(int) time.Duration { return d.Session.Transfer(int(d.length.Load())) }

// Do refuses: nothing can be done to a meter that only talks.
func (d *Driver) Do(context.Context, capture.Act) (string, error) {
	return "", fmt.Errorf("%s: %w: it only talks, nothing can be done to it", d.Name(), ErrNotAllowed)
}

// Close gives the link up.
func (d *Driver) Close() error { return d.Drop() }
