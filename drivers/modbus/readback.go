package modbus

import (
	"context"
	"fmt"

	"steadyrail/drivers/session"
)

// panel sets and reads the limits.
func (d *Driver) panel(ctx context.Context) session.Panel {
	return session.Panel{
		Set:         func(at int, v float64) error { return d.program(ctx, &d.plan.Limits[at], v) },
		Get:         func(at int) (float64, error) { return d.setting(ctx, &d.plan.Limits[at]) },
		Unconfirmed: func(what string) error { return fmt.Errorf("%w: %s", ErrRefused, what) },
	}
}

// readBack tells whether the output is on or off, and holds what the limits read
// back as against what they should be. It changes nothing.
func (d *Driver) readBack(ctx context.Context, text string) (string, error) {
	if d.plan.Output == nil {
		return "", fmt.Errorf("%w: it has no output to read back", ErrNotAllowed)
	}
	bounds := d.bounds()
	var list []session.Setting
	var err error
	if text != "" {
		if list, err = session.ParseHeld(text, bounds); err != nil {
			return "", err
		}
	}
	if err := d.resync(ctx); err != nil {
		return "", err
	}
	is, err := d.switched(ctx)
	if err != nil {
		return "", err
	}
	said, err := d.panel(ctx).ReadBack(bounds, list)
	return session.State(is, said), err
}
