package scpi

import (
	"context"
	"errors"
	"fmt"
	"math"
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
// instrument that does not confirm is [ErrRefused], with what it says itself.
func (d *Driver) Do(ctx context.Context, act capture.Act) (string, error) {
	said, err := d.do(ctx, act)
	if err != nil {
		return "", d.Failed(strings.TrimSpace(string(act.Verb)+" "+act.Text), err)
	}
	return said, nil
}

func (d *Driver) do(ctx context.Context, act capture.Act) (string, error) {
	if !d.allowed(act.Verb) {
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

func (d *Driver) allowed(v capture.Verb) bool {
	for _, a := range d.acts {
		if a == string(v) {
			return true
		}
	}
	return false
}

// output switches. Off is sent at once, even in doubt: only the confirmation
// needs to know the place in the answers. On needs it before.
func (d *Driver) output(ctx context.Context, state string) (string, error) {
	o := d.plan.Output
	switch {
	case o == nil:
		return "", fmt.Errorf("%w: it has no output to switch", ErrNotAllowed)
	case state == "off":
		if err := d.send(ctx, o.Off); err != nil {
			return "", err
		}
	case state != "on":
		return "", fmt.Errorf("%w: an output goes on or off, not %q", ErrNotAllowed, state)
	}
	if err := d.resyncThrough(ctx); err != nil {
		return "", err
	}
	if state == "on" {
		if err := d.send(ctx, o.On); err != nil {
			return "", err
		}
	}
	answer, err := d.ask(ctx, o.Ask)
	if err != nil {
		return "", err
	}
	is, ok := switchState(answer)
	if !ok {
		d.doubt = session.Malformed(o.Ask, answer, "0, 1, OFF or ON")
		return "", d.doubt
	}
	if is != state {
		return "", d.unconfirmed(ctx, "the output reads back as "+is)
	}
	return "output " + state + ", read back", nil
}

// resyncThrough is resync for acts: old errors in the queue are no answer to
// this act and do not stop it.
func (d *Driver) resyncThrough(ctx context.Context) error {
	if err := d.resync(ctx); err != nil && !errors.Is(err, ErrRefused) {
		return err
	}
	return nil
}

// switchState reads a boolean answer: NR1 after SCPI-1999, volume 1, 7.3, and
// the words that some send.
func switchState(answer string) (string, bool) {
	switch strings.ToUpper(strings.TrimSpace(answer)) {
	case "0", "+0", "OFF":
		return "off", true
	case "1", "+1", "ON":
		return "on", true
	}
	return "", false
}

// unconfirmed adds what the instrument says of it.
func (d *Driver) unconfirmed(ctx context.Context, what string) error {
	if err := d.emptyQueue(ctx); err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return fmt.Errorf("%w: %s", ErrRefused, what)
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
	if err := d.resyncThrough(ctx); err != nil {
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
		for _, w := range list {
			if w.limit == limit {
				return nil, fmt.Errorf("%w: %s is given twice", ErrNotAllowed, name)
			}
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
	var first, rest []wanted
	for _, w := range list {
		guarded, ok := protects[w.limit.Name]
		if !ok {
			rest = append(rest, w)
			continue
		}
		now, err := d.askNumber(ctx, w.limit.Ask)
		if err != nil {
			return nil, err
		}
		if wantedOf(list, guarded) > now {
			first = append(first, w)
		} else {
			rest = append(rest, w)
		}
	}
	// Set-points before the protections that tighten around them.
	var points, guards []wanted
	for _, w := range rest {
		if _, ok := protects[w.limit.Name]; ok {
			guards = append(guards, w)
		} else {
			points = append(points, w)
		}
	}
	return append(append(first, points...), guards...), nil
}

func wantedOf(list []wanted, name string) float64 {
	for _, w := range list {
		if w.limit.Name == name {
			return w.value
		}
	}
	return 0
}

// program sets one limit and reads it back.
func (d *Driver) program(ctx context.Context, w wanted) (string, error) {
	number := strconv.FormatFloat(w.value, 'f', -1, 64)
	if err := d.send(ctx, strings.Replace(w.limit.Set, "{}", number, 1)); err != nil {
		return "", err
	}
	got, err := d.askNumber(ctx, w.limit.Ask)
	if err != nil {
		return "", err
	}
	said := fmt.Sprintf("%s %s %s", w.limit.Name, capture.Figure(got, w.limit.Step), w.limit.Unit.Symbol())
	if math.Abs(got-w.value) > 1.001*w.limit.Step {
		return "", d.unconfirmed(ctx, "it reads back as "+said)
	}
	return said, nil
}

// askNumber asks for a number that must be one.
func (d *Driver) askNumber(ctx context.Context, phrase string) (float64, error) {
	answer, err := d.ask(ctx, phrase)
	if err != nil {
		return 0, err
	}
	v, _, flags, err := capture.ParseResponse(answer)
	if err != nil || flags != 0 {
		d.doubt = session.Malformed(phrase, answer, "one number")
		return 0, d.doubt
	}
	return v, nil
}
