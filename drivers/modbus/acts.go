package modbus

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"steadyrail/capture"
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
	if !slices.Contains(d.acts, string(act.Verb)) {
		return "", fmt.Errorf("%w: add %q to the acts of this instrument in the configuration", ErrNotAllowed, act.Verb)
	}
	switch act.Verb {
	case capture.ActOutput:
		return d.output(ctx, act.Text)
	case capture.ActLimits:
		return d.limits(ctx, act.Text)
	}
	return "", fmt.Errorf("%w: nothing can be done to an instrument under that name", ErrNotAllowed)
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

// wanted is one set-point of an act.
type wanted struct {
	limit *Limit
	value float64
}

// limits programs set-points and protection and reads them back. Everything is
// checked before anything is sent.
func (d *Driver) limits(ctx context.Context, text string) (string, error) {
	list, err := d.parseLimits(text)
	if err != nil {
		return "", err
	}
	if err := d.resync(ctx); err != nil {
		return "", err
	}
	if list, err = d.inOrder(ctx, list); err != nil {
		return "", err
	}
	var said []string
	for _, w := range list {
		s, err := d.program(ctx, w)
		if err != nil {
			return "", err
		}
		said = append(said, s)
	}
	return strings.Join(said, ", ") + ", read back", nil
}

// parseLimits reads "volts 24, amperes 0.3".
func (d *Driver) parseLimits(text string) ([]wanted, error) {
	var list []wanted
	for _, part := range strings.Split(text, ",") {
		name, number, _ := strings.Cut(strings.TrimSpace(part), " ")
		limit := d.limit(name)
		if limit == nil {
			return nil, fmt.Errorf("%w: it has no limit %q: use %s", ErrNotAllowed, name, d.limitNames())
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
		if err != nil || math.IsNaN(v) || v < 0 || v > limit.Max {
			return nil, fmt.Errorf("%w: %s %q: want a number from 0 to %g %s", ErrNotAllowed, name, number, limit.Max, limit.Unit.ASCII())
		}
		if slices.ContainsFunc(list, func(w wanted) bool { return w.limit == limit }) {
			return nil, fmt.Errorf("%w: %s is given twice", ErrNotAllowed, name)
		}
		list = append(list, wanted{limit, v})
	}
	return list, nil
}

func (d *Driver) limit(name string) *Limit {
	for i := range d.plan.Limits {
		if d.plan.Limits[i].Name == name {
			return &d.plan.Limits[i]
		}
	}
	return nil
}

func (d *Driver) limitNames() string {
	var names []string
	for _, l := range d.plan.Limits {
		names = append(names, l.Name)
	}
	if len(names) == 0 {
		return "another instrument"
	}
	return strings.Join(names, ", ")
}

// protects says which protection goes with which set-point.
var protects = map[string]string{"over-voltage": "volts", "over-current": "amperes"}

// inOrder puts protection behind the set-point it guards when the set-point is
// under the protection that is in force, and before it when it is above: either
// way no step is refused, and the set-point never stands above its protection.
func (d *Driver) inOrder(ctx context.Context, list []wanted) ([]wanted, error) {
	var first, points, guards []wanted
	for _, w := range list {
		guarded, ok := protects[w.limit.Name]
		if !ok {
			points = append(points, w)
			continue
		}
		now, err := d.setting(ctx, w.limit)
		if err != nil {
			return nil, err
		}
		if wantedOf(list, guarded) > now {
			first = append(first, w)
		} else {
			guards = append(guards, w)
		}
	}
	return slices.Concat(first, points, guards), nil
}

func wantedOf(list []wanted, name string) float64 {
	for _, w := range list {
		if w.limit.Name == name {
			return w.value
		}
	}
	return 0
}

// program sets one limit, to the nearest count, and reads it back.
func (d *Driver) program(ctx context.Context, w wanted) (string, error) {
	data, err := w.limit.Format.encode(plain(w.value))
	if err != nil {
		return "", fmt.Errorf("%w: %s: %w", ErrNotAllowed, w.limit.Name, err)
	}
	if _, err := d.ask(ctx, write(w.limit.Register, data, d.plan.Multiple)); err != nil {
		return "", err
	}
	got, err := d.setting(ctx, w.limit)
	if err != nil {
		return "", err
	}
	said := fmt.Sprintf("%s %s %s", w.limit.Name, capture.Figure(got, w.limit.step()), w.limit.Unit.Symbol())
	if math.Abs(got-w.value) > 1.001*w.limit.step() {
		return "", fmt.Errorf("%w: it reads back as %s", ErrRefused, said)
	}
	return said, nil
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
