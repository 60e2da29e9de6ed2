package modbus

import (
	"context"
	"slices"
	"strconv"

	"steadyrail/capture"
	"steadyrail/drivers/session"
)

// Select does nothing but resynchronise: registers need no selecting.
func (d *Driver) Select(ctx context.Context, id capture.ChannelID) error {
	_, err := d.channel(id)
	if err == nil {
		err = d.resync(ctx)
	}
	if err != nil {
		return d.Failed("select "+id.Input(), err)
	}
	return nil
}

// Measure takes one reading. It fills everything but Measured, HalfWidth and
// Ordinal. In doubt it resynchronises first.
func (d *Driver) Measure(ctx context.Context, id capture.ChannelID) (capture.Reading, error) {
	c, err := d.channel(id)
	var r capture.Reading
	if err == nil {
		r, err = d.measure(ctx, c, id)
	}
	if err != nil {
		return capture.Reading{}, d.Failed("measure "+id.Input(), err)
	}
	return r, nil
}

func (d *Driver) measure(ctx context.Context, c *Channel, id capture.ChannelID) (capture.Reading, error) {
	if err := d.resync(ctx); err != nil {
		return capture.Reading{}, err
	}
	s := d.span(c)
	data, err := d.ask(ctx, read(c.Table, s.from, s.count))
	if err != nil {
		return capture.Reading{}, err
	}
	d.answered.Store(int64(5 + 2*s.count))
	r := capture.Reading{Channel: id, Quantity: c.Info.Quantity}
	c.read(&r, data[2*(c.Register-s.from):])
	if !c.Limiting || d.plan.Limiting == nil {
		return r, nil
	}
	l := d.plan.Limiting
	if s.limiting {
		data = data[2*(l.Register-s.from):]
	} else if data, err = d.ask(ctx, read(l.Table, l.Register, 1)); err != nil {
		return capture.Reading{}, err
	}
	if registers(data)[0]&l.Mask != 0 {
		r.Flags |= capture.Limiting
	}
	return r, nil
}

// apart is how far registers may lie from each other to be read in one request.
// A gap costs its time on the line; a second request costs more.
const apart = 16

// stretch is what one request reads for a channel.
type stretch struct {
	from, count int
	limiting    bool // the limiting bits are in it
}

// span puts the limiting bits into the request of a channel when they lie
// close: what they say is then of the same moment.
func (d *Driver) span(c *Channel) stretch {
	s := stretch{from: c.Register, count: c.Format.words()}
	l := d.plan.Limiting
	if !c.Limiting || l == nil || l.Table != c.Table {
		return s
	}
	from, to := min(s.from, l.Register), max(s.from+s.count, l.Register+1)
	if to-from > apart {
		return s
	}
	return stretch{from: from, count: to - from, limiting: true}
}

// read puts registers into a reading.
func (c *Channel) read(r *capture.Reading, data []byte) {
	raw := c.Format.raw(data)
	switch {
	case slices.Contains(c.OverRange, raw):
		r.Flags = capture.OverRange
	case slices.Contains(c.UnderRange, raw):
		r.Flags = capture.UnderRange
	case slices.Contains(c.NotANumber, raw):
		r.Flags = capture.NotANumber
	}
	if r.Flags != 0 {
		return
	}
	text, flags := c.Format.text(raw)
	if r.Flags = flags; flags != 0 {
		return
	}
	r.Text = text
	r.Value, _ = strconv.ParseFloat(text, 64) // it is a number, and far from the end of float64
	r.Resolution = c.resolution()
	r.Range = session.RangeOf(c.Info.Accuracy, r.Value, r.Resolution, 0)
}

func (c *Channel) resolution() float64 {
	if c.Resolution > 0 {
		return c.Resolution
	}
	return c.Format.Scale.Step()
}
