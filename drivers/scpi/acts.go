package scpi

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"steadyrail/capture"
	"steadyrail/drivers/session"
)

// Do carries out an act and has it confirmed by reading back:
//
//	ActOutput with Text "on" or "off"; ActInput likewise for a load
//	ActLimits with Text "volts 24, amperes 0.3, over-voltage 26, over-current 0.5"
//	ActReadBack with such a text, or none, changes nothing and answers
//	"output off, over-voltage 26 V (on), ..." when all of it is so
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
	if err := session.Allowed(d.acts, d.plan.Acts(), act.Verb); err != nil {
		return "", err
	}
	name := act.Output()
	switch act.Verb {
	case capture.ActOutput, capture.ActInput:
		if act.Text == "off" && name == "" && len(d.plan.OutputNames()) > 0 {
			return d.allOff(ctx)
		}
	case capture.ActLimits, capture.ActReadBack:
	default:
		return "", session.ErrNoAct
	}
	o, err := d.outputOf(name)
	switch {
	case err != nil:
		return "", err
	case act.Verb == capture.ActLimits:
		return d.limits(ctx, o, act.Text)
	case act.Verb == capture.ActReadBack:
		return d.readBack(ctx, o, act.Text)
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
	is, err := d.switched(ctx, o)
	if err != nil {
		return "", err
	}
	if is != state {
		return "", d.unconfirmed(ctx, o.called()+" reads back as "+is)
	}
	return o.title() + " " + state + ", read back", nil
}

// switched asks whether an output is on or off.
func (d *Driver) switched(ctx context.Context, o *Output) (string, error) {
	on, err := d.askSwitch(ctx, o.Ask)
	if err != nil {
		return "", err
	}
	if on {
		return "on", nil
	}
	return "off", nil
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

// limits programs set-points and protection and reads them back. Everything is
// checked before anything is sent.
func (d *Driver) limits(ctx context.Context, o *Output, text string) (string, error) {
	bounds := o.bounds()
	list, err := session.ParseLimits(text, bounds)
	if err != nil {
		return "", err
	}
	if err := d.resyncThrough(ctx); err != nil {
		return "", err
	}
	if err := d.choose(ctx, o); err != nil {
		return "", err
	}
	said, err := d.panel(ctx, o).Program(bounds, list)
	if err == nil && o.Name != "" {
		said = o.title() + ": " + said
	}
	return said, err
}

func (o *Output) bounds() []session.Bound {
	var out []session.Bound
	for _, l := range o.Limits {
		out = append(out, session.Bound{Name: l.Name, Unit: l.Unit, Step: l.Step, Max: l.Max, On: l.guard()})
	}
	return out
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
