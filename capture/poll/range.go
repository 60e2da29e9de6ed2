package poll

import (
	"context"
	"fmt"
	"math"

	"steadyrail/capture"
)

// FixRange has a channel hold the range for values of up to atLeast, in base
// units; 0 lets it choose by itself again. It returns when the instrument is
// set. If it is away, or measures something else, the range is set before the
// channel's next reading. The error wraps [ErrNoRange] where the instrument
// cannot, and nothing was sent.
func (l *Loop) FixRange(ctx context.Context, ch capture.ChannelID, atLeast float64) error {
	c := l.channel(ch)
	if c == nil {
		return fmt.Errorf("range of %s: %w %s", ch, ErrUnknown, l.link)
	}
	if _, can := c.unit.in.(capture.RangeFixer); !can || !c.info.FixRange {
		return fmt.Errorf("range of %s: %w", ch, ErrNoRange)
	}
	var failed error
	err := l.ask(ctx, c.unit.name, func(ctx context.Context) {
		before := c.hold
		c.hold = atLeast
		if c.held == atLeast {
			return
		}
		if !c.unit.up || c.group != nil && c.group.configured != c.info.ID {
			return
		}
		if failed = l.setRange(ctx, c); failed != nil {
			c.hold = before
			l.afterAsking(c.unit, failed)
		}
	})
	if err == nil {
		err = failed
	}
	if err != nil {
		return fmt.Errorf("range of %s: %w", ch, err)
	}
	return nil
}

// holdRange sets the range before a reading when it is not set. A refusal ends
// the trying: a reading on a range of the meter's own choice is better than
// none.
func (l *Loop) holdRange(ctx context.Context, c *channel) error {
	if c.held == c.hold {
		return nil
	}
	ctx, cancel := context.WithTimeout(ctx, l.opts.selectDeadline)
	defer cancel()
	err := l.setRange(ctx, c)
	if err != nil && l.opts.flag(err).Has(capture.Refused) {
		c.hold, c.held = 0, 0
		return nil
	}
	return err
}

func (l *Loop) setRange(ctx context.Context, c *channel) error {
	fixer, can := c.unit.in.(capture.RangeFixer)
	if !can {
		return ErrNoRange
	}
	c.held = math.NaN()
	if err := fixer.FixRange(ctx, c.info.ID, c.hold); err != nil {
		return err
	}
	c.held = c.hold
	return nil
}

// unsureOfRange notes that the instrument may have forgotten its range. Nothing
// is sent for a channel whose range nobody ever asked for.
func (c *channel) unsureOfRange() {
	if c.hold != 0 || c.held != 0 {
		c.held = math.NaN()
	}
}
