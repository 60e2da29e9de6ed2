package scpi

import (
	"context"
	"errors"

	"steadyrail/capture"
	"steadyrail/drivers/wire"
)

// withTripped adds to what was read back of an output that is off which of its
// protections have tripped, where the plan has phrases to ask: SCPI-1999 volume 2,
// chapter 19 (SOURce; from memory), VOLTage:PROTection:TRIPped? and
// CURRent:PROTection:TRIPped?, each 0 or 1. Nothing is cleared: that is a
// person's act.
func (d *Driver) withTripped(ctx context.Context, o *Output, is, said string) (string, error) {
	if is != "off" {
		return said, nil
	}
	var names []string
	for i := range o.Limits {
		l := &o.Limits[i]
		if l.Tripped == "" || d.mute[l.Tripped] {
			continue
		}
		on, err := d.askSwitch(ctx, l.Tripped)
		switch {
		case errors.Is(err, wire.ErrTimeout): // an instrument that does not know a query is silent
			if err := d.resyncThrough(ctx); err != nil {
				return "", err // so is one that is lost, and may know it
			}
			d.noAnswerTo(l.Tripped)
			if err := d.choose(ctx, o); err != nil {
				return "", err
			}
		case err != nil:
			return "", err
		case on:
			names = append(names, l.Name)
		}
	}
	if len(names) == 0 {
		return said, nil
	}
	return capture.WithTripped(said, names...), nil
}

// noAnswerTo remembers a query that this instrument did not answer, so that it
// costs one wait and not one each time.
func (d *Driver) noAnswerTo(query string) {
	if d.mute == nil {
		d.mute = map[string]bool{}
	}
	d.mute[query] = true
}
