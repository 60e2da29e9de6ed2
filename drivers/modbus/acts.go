package modbus

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"steadyrail/capture"
	"steadyrail/drivers/session"
)

// Do carries out an act on a supply and has it confirmed by reading back:
//
//	ActOutput with Text "on" or "off"
//	ActLimits with Text "volts 24, amperes 0.3, over-voltage 26, over-current 0.5"
//
// It returns a sentence of what was read back. What the configuration does not
// allow, or the plan does not have, is [ErrNotAllowed] and nothing was sent. An
// instrument that does not confirm is [ErrRefused].
func (d *Driver) Do(ctx context.Context, act capture.Act) (string, error) {
	said, err := d.do(ctx, act)
	if err != nil {
		return "", d.Failed(strings.TrimSpace(string(act.Verb)+" "+act.Text), err)
	}
	return said, nil
}

func (d *Driver) do(ctx context.Context, act capture.Act) (string, error) {
	if err := session.Allowed(d.acts, d.plan.Acts(), act.Verb); err != nil {
		return "", err
	}
	switch act.Verb {
	case capture.ActOutput:
		return d.output(ctx, act.Text)
	case capture.ActLimits:
		return d.limits(ctx, act.Text)
	case capture.ActReadBack:
		return d.readBack(ctx, act.Text)
	}
	return "", session.ErrNoAct
}

// output switches. Off is sent before it is certain who is there, and once more
// if it was not answered; on needs to know before.
func (d *Driver) output(ctx context.Context, state string) (string, error) {
	o := d.plan.Output
	switch {
	case o == nil:
		return "", fmt.Errorf("%w: it has no output to switch", ErrNotAllowed)
	case state != "on" && state != "off":
		return "", fmt.Errorf("%w: an output goes on or off, not %q", ErrNotAllowed, state)
	case state == "on":
		if err := d.resync(ctx); err != nil {
			return "", err
		}
	}
	_, err := d.ask(ctx, d.throw(state == "on"))
	if err != nil && state == "off" && !errors.Is(err, ErrRefused) && d.Link() != nil {
		_ = d.Link().Drain(ctx) // as well as it goes: the request below tells
		_, err = d.ask(ctx, d.throw(false))
	}
	if err != nil {
		return "", err
	}
	if err := d.resync(ctx); err != nil {
		return "", err
	}
	is, err := d.switched(ctx)
	if err != nil {
		return "", err
	}
	if is != state {
		return "", fmt.Errorf("%w: the output reads back as %s", ErrRefused, is)
	}
	return "output " + state + ", read back", nil
}

// throw is the request that switches.
func (d *Driver) throw(on bool) request {
	o := d.plan.Output
	if o.Table == Coil {
		return switchCoil(o.Register, on)
	}
	v := o.Off
	if on {
		v = o.On
	}
	return write(o.Register, []byte{byte(v >> 8), byte(v)}, d.plan.Multiple)
}

// switched reads the output back.
func (d *Driver) switched(ctx context.Context) (string, error) {
	o := d.plan.Output
	r := read(o.Table, o.Register, 1)
	if o.Ask != nil {
		r = read(o.Ask.Table, o.Ask.Register, 1)
	}
	data, err := d.ask(ctx, r)
	if err != nil {
		return "", err
	}
	switch {
	case o.Ask != nil:
		return onOff(registers(data)[0]&o.Ask.Mask != 0), nil
	case o.Table == Coil:
		return onOff(data[0]&1 != 0), nil
	}
	switch v := registers(data)[0]; v {
	case o.On:
		return "on", nil
	case o.Off:
		return "off", nil
	default:
		return "", r.malformed(data, fmt.Sprintf("%d for on or %d for off", o.On, o.Off))
	}
}

func onOff(on bool) string {
	if on {
		return "on"
	}
	return "off"
}

// limits programs set-points and protection, to the nearest count, and reads
// them back. Everything is checked before anything is sent.
func (d *Driver) limits(ctx context.Context, text string) (string, error) {
	bounds := d.bounds()
	list, err := session.ParseLimits(text, bounds)
	if err != nil {
		return "", err
	}
	if err := d.resync(ctx); err != nil {
		return "", err
	}
	return d.panel(ctx).Program(bounds, list)
}

func (d *Driver) bounds() []session.Bound {
	var out []session.Bound
	for _, l := range d.plan.Limits {
		out = append(out, session.Bound{Name: l.Name, Unit: l.Unit, Step: l.step(), Max: l.Max, On: l.guard()})
	}
	return out
}

// program sets one limit.
func (d *Driver) program(ctx context.Context, l *Limit, v float64) error {
	data, err := l.Format.encode(plain(v))
	if err != nil {
		return fmt.Errorf("%w: %s: %w", ErrNotAllowed, l.Name, err)
	}
	_, err = d.ask(ctx, write(l.Register, data, d.plan.Multiple))
	return err
}

// setting reads a limit back, which must be a number.
func (d *Driver) setting(ctx context.Context, l *Limit) (float64, error) {
	r := read(Holding, l.ask(), l.Format.words())
	data, err := d.ask(ctx, r)
	if err != nil {
		return 0, err
	}
	text, flags := l.Format.text(l.Format.raw(data))
	if flags != 0 {
		d.doubt = r.malformed(data, "one number")
		return 0, d.doubt
	}
	return strconv.ParseFloat(text, 64)
}
