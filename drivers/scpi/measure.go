package scpi

import (
	"context"
	"fmt"
	"math"
	"strings"

	"steadyrail/capture"
	"steadyrail/drivers/session"
)

// Select sets a shared input to a channel's function, once. Selecting the
// channel that is selected, or one that needs no phrases, sends nothing. What
// the instrument thinks of it is asked: errors wrap [ErrRefused] besides those
// of the link.
func (d *Driver) Select(ctx context.Context, id capture.ChannelID) error {
	c, err := d.channel(id)
	if err == nil {
		err = d.pick(ctx, c)
	}
	if err != nil {
		return d.Failed("select "+id.Input(), err)
	}
	return nil
}

func (d *Driver) pick(ctx context.Context, c *Channel) error {
	if err := d.resync(ctx); err != nil {
		return err
	}
	if len(c.Select) == 0 || d.selected[c.slot()] == c.Name {
		return nil
	}
	delete(d.selected, c.slot())
	delete(d.held, c.Name) // selecting lets it go
	if err := d.setUp(ctx, c.Select); err != nil {
		return err
	}
	if held := d.fixed[c.Name]; held != 0 {
		if err := d.hold(ctx, c, held); err != nil {
			return err
		}
	}
	d.selected[c.slot()] = c.Name
	return nil
}

// slot names what channels share: the group, or nothing but themselves.
func (c *Channel) slot() string {
	if c.Group != "" {
		return "group " + c.Group
	}
	return "channel " + c.Name
}

// Measure takes one reading. It fills everything but Measured, HalfWidth and
// Ordinal. An input that was never selected is set to the channel first; one
// that is set to another channel is [ErrNoChannel]. In doubt it resynchronises
// first, and reports what the instrument had to say instead of measuring.
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
	if d.Link() == nil || d.doubt != nil {
		if err := d.resync(ctx); err != nil {
			return capture.Reading{}, err
		}
	}
	if err := d.ready(ctx, c); err != nil {
		return capture.Reading{}, err
	}
	if err := d.choose(ctx, d.plan.OutputNamed(c.Output)); err != nil {
		return capture.Reading{}, err
	}
	answer, err := d.ask(ctx, c.Read)
	if err != nil {
		return capture.Reading{}, err
	}
	r := capture.Reading{Channel: id, Quantity: c.Quantity}
	if err := d.read(&r, c, answer); err != nil {
		return capture.Reading{}, err
	}
	if o := d.plan.OutputNamed(c.Output); c.Limiting && o != nil && o.Limiting != nil {
		// Not in the return: whether r would be read before or after it is not
		// specified.
		err = d.addLimiting(ctx, o.Limiting, &r)
	}
	return r, err
}

// ready makes sure that the input is set to the channel.
func (d *Driver) ready(ctx context.Context, c *Channel) error {
	if len(c.Select) == 0 {
		if held := d.fixed[c.Name]; held != 0 && !d.held[c.Name] {
			return d.hold(ctx, c, held)
		}
		return nil
	}
	switch now := d.selected[c.slot()]; now {
	case c.Name:
		return nil
	case "":
		return d.pick(ctx, c)
	default:
		return fmt.Errorf("%w: the input is set to %s: select %s first", ErrNoChannel, now, c.Name)
	}
}

// read puts an answer into a reading. What is no number puts the driver in
// doubt: it may be the answer to something else.
func (d *Driver) read(r *capture.Reading, c *Channel, answer string) error {
	v, resolution, flags, text, err := d.number(c.Read, answer, c.Quantity, c.Quantity.Unit())
	if err != nil {
		return err
	}
	r.Flags = flags
	if r.HasValue() {
		r.Value, r.Resolution, r.Text = v, resolution, text
		r.Range = session.RangeOf(c.Ranges, v, resolution, d.fixed[c.Name])
	}
	return nil
}

// addLimiting asks whether the supply regulates current.
func (d *Driver) addLimiting(ctx context.Context, l *Limiting, r *capture.Reading) error {
	answer, err := d.ask(ctx, l.Ask)
	if err != nil {
		return err
	}
	v, _, flags, err := capture.ParseResponse(answer)
	if err != nil || flags != 0 || v < 0 || v > math.MaxUint16 || v != math.Trunc(v) {
		d.doubt = session.Malformed(l.Ask, answer, "a register from 0 to 65535")
		return d.doubt
	}
	if int(v)&l.Mask != 0 {
		r.Flags |= capture.Limiting
	}
	return nil
}

// parseError reads an entry of the error queue: a number, and a text in quotes
// or without. Some instruments put a plus in front, or send the number alone.
func parseError(answer string) (code int, text string, ok bool) {
	number, text, _ := strings.Cut(answer, ",")
	v, _, flags, err := capture.ParseResponse(number)
	if err != nil || flags != 0 || v != math.Trunc(v) || math.Abs(v) > math.MaxInt16 {
		return 0, "", false
	}
	return int(v), strings.Trim(text, ` "`), true
}
