package scpi

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"steadyrail/capture"
	"steadyrail/drivers/session"
	"steadyrail/drivers/wire"
)

const (
	askIdentity = "*IDN?"
	askError    = "SYST:ERR?"
	clearStatus = "*CLS"
	// attempts at an identity, against what a far end still had to say.
	attempts = 3
	// queueLength bounds the reading of an error queue: an instrument that
	// always has one more must not hold the bench up.
	queueLength = 32
)

// Connect opens the link, makes sure who is there, and sets up. It changes no
// output and no set-point. After it the input's function is not known: Select
// before the next measurement. On any error the link is given up again.
func (d *Driver) Connect(ctx context.Context) error {
	if err := d.Open(ctx); err != nil {
		return fmt.Errorf("%s: connect: %w", d.Name(), err)
	}
	d.doubt, d.silent = nil, false
	d.forget()
	if err := d.arrive(ctx); err != nil {
		_ = d.Leave() // what its opening phrases did is undone; the cause is err
		return fmt.Errorf("%s: connect: %w", d.Name(), err)
	}
	return nil
}

// forget notes that nobody knows what the instrument is set to.
func (d *Driver) forget() {
	clear(d.selected)
	clear(d.held)
}

func (d *Driver) arrive(ctx context.Context) error {
	if err := d.identify(ctx); err != nil {
		return err
	}
	if !d.plan.has(NoClear) {
		if err := d.send(ctx, clearStatus); err != nil {
			return err
		}
	}
	return d.setUp(ctx, d.plan.SetUp)
}

// setUp sends phrases without answer and then asks whether they were taken.
func (d *Driver) setUp(ctx context.Context, phrases []string) error {
	for _, p := range phrases {
		if err := CheckQuiet(p); err != nil {
			return err
		}
		if err := d.send(ctx, p); err != nil {
			return err
		}
	}
	return d.emptyQueue(ctx)
}

// identify drains the line and asks who is there, again if something else came,
// and compares. Who cannot be asked is whoever hangs there.
func (d *Driver) identify(ctx context.Context) error {
	var err error
	who := d.plan.Identity
	if who.None {
		if err = d.Link().Drain(ctx); err != nil {
			return err
		}
		return d.Arrive(capture.Identity{})
	}
	phrase := askIdentity
	if who.Ask != "" {
		phrase = who.Ask
	}
	for range attempts {
		if err = d.Link().Drain(ctx); err != nil {
			return err
		}
		var answer string
		if answer, err = d.ask(ctx, phrase); err == nil {
			var id capture.Identity
			if id, err = who.parse(answer); err == nil {
				return d.Arrive(id)
			}
		}
		if errors.Is(err, wire.ErrGone) || errors.Is(err, wire.ErrStuck) || ctx.Err() != nil {
			break
		}
	}
	return err
}

// meetAgain makes sure of who answers on a connection that another instrument
// left in doubt. What comes instead of the own identity is another's late answer.
func (d *Driver) meetAgain(ctx context.Context) error {
	who := d.plan.Identity
	if who.None {
		return d.Link().Drain(ctx)
	}
	phrase := askIdentity
	if who.Ask != "" {
		phrase = who.Ask
	}
	answer, err := wire.AskAfresh(ctx, d.Link(), phrase)
	if err != nil {
		return err
	}
	id, err := who.parse(answer)
	if err == nil {
		err = d.Arrive(id)
	}
	if err != nil {
		return fmt.Errorf("%w: %w", wire.ErrInDoubt, err)
	}
	return nil
}

// ParseIdentity reads the answer to *IDN?: exactly four fields between commas,
// maker, model, serial number ("0" when there is none) and firmware (IEEE
// 488.2, 10.14). The serial number stays text. Errors wrap [ErrMalformed].
func ParseIdentity(answer string) (capture.Identity, error) {
	fields := strings.Split(answer, ",")
	for i := range fields {
		fields[i] = strings.TrimSpace(fields[i])
	}
	if len(fields) != 4 || fields[0] == "" || fields[1] == "" {
		return capture.Identity{}, session.Malformed(askIdentity, answer, "maker, model, serial number and firmware")
	}
	return capture.Identity{Maker: fields[0], Model: fields[1], Serial: fields[2], Firmware: fields[3], Source: session.ByInstrument}, nil
}

// emptyQueue asks for errors until there are none. Each is in the error, which
// wraps [ErrRefused]. An instrument without a queue has none.
func (d *Driver) emptyQueue(ctx context.Context) error {
	found, err := d.queued(ctx)
	if err != nil {
		return err
	}
	return refusedFor(found)
}

// queued takes everything out of the error queue.
func (d *Driver) queued(ctx context.Context) ([]queuedError, error) {
	if d.plan.has(NoErrorQueue) {
		return nil, nil
	}
	var found []queuedError
	for range queueLength {
		answer, err := d.ask(ctx, askError)
		if err != nil {
			return nil, err
		}
		code, text, ok := parseError(answer)
		switch {
		case !ok:
			d.doubt = session.Malformed(askError, answer, `a number and a text, such as 0,"No error"`)
			return nil, d.doubt
		case code == 0:
			return found, nil
		}
		found = append(found, queuedError{code, text})
	}
	return nil, fmt.Errorf("%w: its error queue does not end: %s", ErrRefused, joined(found))
}

// refusedFor is what the errors of a queue come to; nil for none.
func refusedFor(found []queuedError) error {
	if len(found) == 0 {
		return nil
	}
	return fmt.Errorf("%w: %s", ErrRefused, joined(found))
}

func joined(found []queuedError) string {
	var out []string
	for _, e := range found {
		out = append(out, e.String())
	}
	return strings.Join(out, "; ")
}

// resync finds the place in the answers again after whatever went wrong. After
// a silence it may be a place without settings: an adapter stays when its
// instrument is switched off and on, and READ? then answers with whatever
// function it wakes up in. So the settings are sent again.
func (d *Driver) resync(ctx context.Context) error {
	if d.Link() == nil {
		return ErrNotConnected
	}
	if d.doubt == nil {
		return nil
	}
	d.Resynced()
	if err := d.identify(ctx); err != nil {
		return fmt.Errorf("resynchronise: %w", err)
	}
	d.doubt = nil
	if !d.silent {
		return d.emptyQueue(ctx)
	}
	d.forget()
	err := d.setUp(ctx, d.plan.SetUp)
	d.silent = err != nil && !errors.Is(err, ErrRefused) // an old error in the queue is told, and no reason to begin again
	return err
}
