package scpi

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"

	"steadyrail/capture"
)

// FixRange sets the smallest range of a channel that holds values of up to
// atLeast, so that auto-ranging does not look away at a dip; 0 goes back to
// auto-ranging. The instrument is asked whether it took it. A channel that is
// not selected is set when it is. What was fixed is set again after each
// selecting and each connection. [ErrNotAllowed]: the model does not say how, or
// no range is large enough; the range stays as it was.
func (d *Driver) FixRange(ctx context.Context, id capture.ChannelID, atLeast float64) error {
	c, err := d.channel(id)
	if err == nil {
		err = d.fix(ctx, c, atLeast)
	}
	if err != nil {
		return d.Failed("fix the range of "+id.Input(), err)
	}
	return nil
}

func (d *Driver) fix(ctx context.Context, c *Channel, atLeast float64) error {
	if c.FixRange == "" {
		return fmt.Errorf("%w: its model has no fix_range phrase, so it goes on choosing its range", ErrNotAllowed)
	}
	to, err := smallest(c.Ranges, atLeast)
	if err != nil {
		return err
	}
	if err := d.resync(ctx); err != nil {
		return err
	}
	if to == d.fixed[c.Name] && (to == 0 || d.held[c.Name]) {
		return nil
	}
	if len(c.Select) == 0 || d.selected[c.slot()] == c.Name {
		if err := d.hold(ctx, c, to); err != nil {
			return err
		}
	}
	d.fixed[c.Name] = to
	return nil
}

// hold sends a range; 0 lets the meter choose.
func (d *Driver) hold(ctx context.Context, c *Channel, to float64) error {
	delete(d.held, c.Name)
	phrase := c.AutoRange
	if to != 0 {
		phrase = strings.Replace(c.FixRange, "{}", strconv.FormatFloat(to, 'f', -1, 64), 1)
	}
	if err := d.setUp(ctx, []string{phrase}); err != nil {
		return err
	}
	d.held[c.Name] = true
	return nil
}

// smallest returns the smallest range that holds a value, 0 for 0.
func smallest(ranges []capture.Accuracy, atLeast float64) (float64, error) {
	if math.IsNaN(atLeast) || atLeast < 0 {
		return 0, fmt.Errorf("%w: a range of %g", ErrNotAllowed, atLeast)
	}
	best, largest := 0.0, 0.0
	for _, a := range ranges {
		largest = max(largest, a.Range)
		if a.Range >= atLeast && (best == 0 || a.Range < best) {
			best = a.Range
		}
	}
	switch {
	case atLeast == 0:
		return 0, nil
	case best == 0:
		return 0, fmt.Errorf("%w: no range holds %g, the largest is %g", ErrNotAllowed, atLeast, largest)
	}
	return best, nil
}
