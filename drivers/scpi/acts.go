package scpi

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"steadyrail/capture"
	"steadyrail/drivers/session"
)

// Do carries out an act and has it confirmed by reading back:
//
//	ActOutput with Text "on" or "off"; ActInput likewise for a load
//	ActLimits with Text "volts 24, amperes 0.3, over-voltage 26, over-current 0.5"
//
// The subject is the instrument, or "psu/1" for one of several outputs; "off"
// without one switches all of them off. It returns a sentence of what was read
// back. What the configuration does not allow, or the plan does not have, is
// [ErrNotAllowed] and nothing was sent. An instrument that does not confirm is
// [ErrRefused], with what it says itself.
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
	name := act.Output()
	switch act.Verb {
	case capture.ActOutput, capture.ActInput:
		if act.Text == "off" && name == "" && len(d.plan.OutputNames()) > 0 {
			return d.allOff(ctx)
		}
	case capture.ActLimits:
	default:
		return "", fmt.Errorf("%w: nothing can be done to an instrument under that name", ErrNotAllowed)
	}
	o, err := d.outputOf(name)
	switch {
	case err != nil:
		return "", err
	case act.Verb == capture.ActLimits:
		return d.limits(ctx, o, act.Text)
	}
	return d.output(ctx, o, act.Verb, act.Text)
}

// outputOf finds the output that an act means. One of several is never guessed.
func (d *Driver) outputOf(name string) (*Output, error) {
	if o := d.plan.OutputNamed(name); o != nil {
		return o, nil
	}
	names := d.plan.OutputNames()
	switch {
	case len(d.plan.Outputs) == 0:
		return nil, fmt.Errorf("%w: it has no output to switch", ErrNotAllowed)
	case len(names) == 0:
		return nil, fmt.Errorf("%w: it has one output, without a name: leave out %q", ErrNotAllowed, "/"+name)
	}
	return nil, fmt.Errorf("%w: say which output: %s", ErrNotAllowed, d.Name()+"/"+strings.Join(names, ", "+d.Name()+"/"))
}

// allOff switches off whatever can be switched, each one even when another does
// not confirm.
func (d *Driver) allOff(ctx context.Context) (string, error) {
	var said []string
	var all []error
	for i := range d.plan.Outputs {
		o := &d.plan.Outputs[i]
		if o.On == "" {
			continue
		}
		s, err := d.output(ctx, o, o.Verb, "off")
		if all = append(all, err); err == nil {
			said = append(said, s)
		}
	}
	return strings.Join(said, ", "), errors.Join(all...)
}

// choose makes the instrument mean one of its outputs, and has it say so. It is
// done before each exchange: somebody at the panel may choose another one, and a
// reading of it under this name is the worst that can happen.
func (d *Driver) choose(ctx context.Context, o *Output) error {
	if o == nil || o.Choose == "" {
		return nil
	}
	if err := d.send(ctx, o.Choose); err != nil {
		return err
	}
	answer, err := d.ask(ctx, o.Chosen.Ask)
	if err != nil {
		return err
	}
	if got := strings.TrimSpace(answer); !strings.EqualFold(got, o.Chosen.Answer) {
		return d.unconfirmed(ctx, fmt.Sprintf("output %s was chosen, it says %q instead of %q", o.Name, got, o.Chosen.Answer))
	}
	return nil
}

// output switches. Off is sent at once, even in doubt: only the confirmation
// needs to know the place in the answers. On needs it before. Where an output
// has to be chosen first, off too waits until the choice is confirmed.
func (d *Driver) output(ctx context.Context, o *Output, verb capture.Verb, state string) (string, error) {
	switch {
	case o.On == "" || o.Verb != verb:
		return "", fmt.Errorf("%w: it has no %s to switch", ErrNotAllowed, verb)
	case state == "off" && o.Choose == "":
		if err := d.send(ctx, o.Off); err != nil {
			return "", err
		}
	case state != "on" && state != "off":
		return "", fmt.Errorf("%w: an %s goes on or off, not %q", ErrNotAllowed, verb, state)
	}
	if err := d.resyncThrough(ctx); err != nil {
		return "", err
	}
	if err := d.choose(ctx, o); err != nil {
		return "", err
	}
	if err := d.switchTo(ctx, o, state); err != nil {
		return "", err
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
		return "", d.unconfirmed(ctx, o.called()+" reads back as "+is)
	}
	return o.title() + " " + state + ", read back", nil
}

// switchTo sends what switches, after what makes ready for on. Off that was
// sent already is not sent again.
func (d *Driver) switchTo(ctx context.Context, o *Output, state string) error {
	if state == "off" {
		if o.Choose == "" {
			return nil
		}
		return d.send(ctx, o.Off)
	}
	if len(o.Ready) > 0 {
		if err := d.setUp(ctx, o.Ready); err != nil {
			return fmt.Errorf("make ready: %w", err)
		}
	}
	return d.send(ctx, o.On)
}

// title is "output", or "output 1" of several.
func (o *Output) title() string { return strings.TrimSpace(string(o.Verb) + " " + o.Name) }

func (o *Output) called() string { return "the " + o.title() }

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
func (d *Driver) limits(ctx context.Context, o *Output, text string) (string, error) {
	list, err := o.parseLimits(text)
	if err != nil {
		return "", err
	}
	if err := d.resyncThrough(ctx); err != nil {
		return "", err
	}
	if err := d.choose(ctx, o); err != nil {
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
	what := strings.Join(said, ", ") + ", read back"
	if o.Name != "" {
		what = o.title() + ": " + what
	}
	return what, nil
}

// parseLimits reads "volts 24, amperes 0.3".
func (o *Output) parseLimits(text string) ([]wanted, error) {
	var list []wanted
	for _, part := range strings.Split(text, ",") {
		name, number, _ := strings.Cut(strings.TrimSpace(part), " ")
		limit := o.limit(name)
		if limit == nil {
			return nil, fmt.Errorf("%w: it has no limit %q: use %s", ErrNotAllowed, name, o.limitNames())
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

func (o *Output) limit(name string) *Limit {
	for i := range o.Limits {
		if o.Limits[i].Name == name {
			return &o.Limits[i]
		}
	}
	return nil
}

func (o *Output) limitNames() string {
	var names []string
	for _, l := range o.Limits {
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
		now, err := d.askNumber(ctx, w.limit)
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
	got, err := d.askNumber(ctx, w.limit)
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
func (d *Driver) askNumber(ctx context.Context, l *Limit) (float64, error) {
	answer, err := d.ask(ctx, l.Ask)
	if err != nil {
		return 0, err
	}
	v, _, flags, _, err := d.number(l.Ask, answer, capture.NoQuantity, l.Unit)
	if err != nil {
		return 0, err
	}
	if flags != 0 {
		d.doubt = session.Malformed(l.Ask, answer, "one number")
		return 0, d.doubt
	}
	return v, nil
}
