package scpi

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"steadyrail/capture"
	"steadyrail/drivers/session"
)

// panel sets and reads the limits of an output.
func (d *Driver) panel(ctx context.Context, o *Output) session.Panel {
	return session.Panel{
		Set: func(at int, v float64) error {
			return d.send(ctx, strings.Replace(o.Limits[at].Set, "{}", strconv.FormatFloat(v, 'f', -1, 64), 1))
		},
		Get:         func(at int) (float64, error) { return d.askNumber(ctx, &o.Limits[at]) },
		Unconfirmed: func(what string) error { return d.unconfirmed(ctx, what) },
		TurnOn:      func(at int) (bool, error) { return d.turnGuardOn(ctx, o.Limits[at].State.On) },
		IsOn:        func(at int) (bool, error) { return d.askSwitch(ctx, o.Limits[at].State.Ask) },
	}
}

// readBack tells whether an output is on or off, and holds what its limits read
// back as against what they should be. It changes nothing.
func (d *Driver) readBack(ctx context.Context, o *Output, text string) (string, error) {
	if o.Verb != capture.ActOutput {
		return "", fmt.Errorf("%w: it has no %s to read back", ErrNotAllowed, capture.ActOutput)
	}
	bounds := o.bounds()
	var list []session.Setting
	var err error
	if text != "" {
		if list, err = session.ParseHeld(text, bounds); err != nil {
			return "", err
		}
	}
	if err := d.resyncThrough(ctx); err != nil {
		return "", err
	}
	if err := d.choose(ctx, o); err != nil {
		return "", err
	}
	is, err := d.switched(ctx, o)
	if err != nil {
		return "", err
	}
	said, err := d.panel(ctx, o).ReadBack(bounds, list)
	if err != nil {
		return "", err
	}
	return d.withTripped(ctx, o, is, session.State(is, said))
}
