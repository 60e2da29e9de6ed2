package scpi

import (
	"context"
	"errors"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/session"
	"steadyrail/drivers/wire"
)

// Options make a [Driver].
type Options struct {
	Info    capture.InstrumentInfo // without identity and channels
	Plan    Plan
	Expect  capture.Identity // what is empty is not compared
	Every   time.Duration    // poll interval of all channels; 0: the plan's
	OffExit bool             // Close switches the output off, confirmed
	Dial    wire.Dial
	Baud    int // of the line, for Transfer; 0: takes no time
}

// Driver is one instrument. Use [New]. Only Info, Resyncs and Transfer are safe
// for use by other goroutines than the one that measures.
type Driver struct {
	*session.Session
	plan     Plan
	acts     []string // what the configuration allows
	offExit  bool
	selected map[string]string  // group to channel name
	fixed    map[string]float64 // channel name to the range that it is to hold
	held     map[string]bool    // channel names whose range is as fixed says
	mute     map[string]bool    // queries of the plan that it did not answer
	doubt    error              // why the next call must resynchronise; nil: in step
	silent   bool               // it did not answer in time, and may have been switched off and on
}

// ExitDeadline bounds the switching off at the end.
const ExitDeadline = 2 * time.Second

// New makes a driver. Nothing is opened before Connect. A plan with a phrase
// that must not be sent is refused with [ErrNotAllowed].
func New(o Options) (*Driver, error) {
	if err := o.Plan.Check(); err != nil {
		return nil, err
	}
	var channels []capture.ChannelInfo
	for _, c := range o.Plan.Channels {
		channels = append(channels, capture.ChannelInfo{
			ID: capture.ChannelID(c.Name), Quantity: c.Quantity, Every: c.Every,
			Aperture: c.Aperture, Lag: c.Lag, Accuracy: c.Ranges, Setpoint: c.ReadBack, Group: c.Group,
			Settle: c.Settle, Runs: runs(c.Read), FixRange: c.FixRange != "", InputOhms: c.InputOhms,
		})
	}
	o.Info.Outputs = o.Plan.OutputNames()
	return &Driver{
		Session: session.New(session.Options{Info: o.Info, Channels: channels, Expect: o.Expect, Every: o.Every, Dial: o.Dial, Baud: o.Baud}),
		plan:    o.Plan, acts: o.Info.Acts, offExit: o.OffExit, selected: map[string]string{}, fixed: map[string]float64{}, held: map[string]bool{},
	}, nil
}

// runs reports whether a phrase asks for what was measured before: FETCh starts
// nothing (SCPI-1999 volume 2, 3.2).
func runs(read string) bool {
	return strings.HasPrefix(strings.ToUpper(strings.TrimLeft(read, ":")), "FETC")
}

// Close is the end: with OffExit and a connection it first switches every
// output off and has that confirmed.
func (d *Driver) Close() error {
	var err error
	if d.offExit && d.Link() != nil {
		ctx, cancel := context.WithTimeout(context.Background(), ExitDeadline)
		defer cancel()
		_, err = d.allOff(ctx)
	}
	if e := d.Leave(); err == nil {
		err = e
	}
	return err
}

// send and ask are the only ways out. What must never be sent was refused by
// New, and is refused here again.
func (d *Driver) send(ctx context.Context, phrase string) error {
	if d.Link() == nil {
		return ErrNotConnected
	}
	if err := CheckPhrase(phrase); err != nil {
		return err
	}
	return d.Link().Send(ctx, phrase)
}

// turns is how often a query is tried on a connection that another instrument
// leaves in doubt.
const turns = 3

// ask sends a query of the plan or of this package, and leaves the driver in
// doubt when anything goes wrong. A connection that another instrument on it left
// in doubt is no failure of this one: it makes sure whom it talks to, and asks.
func (d *Driver) ask(ctx context.Context, phrase string) (string, error) {
	if d.Link() == nil {
		return "", ErrNotConnected
	}
	answer, err := d.Link().Query(ctx, phrase)
	for range turns {
		if !errors.Is(err, wire.ErrInDoubt) || d.doubt != nil || !wire.Shared(d.Link()) || ctx.Err() != nil {
			break
		}
		if err = d.meetAgain(ctx); err == nil {
			answer, err = d.Link().Query(ctx, phrase)
		}
	}
	if err != nil {
		d.doubt = err
		d.silent = d.silent || errors.Is(err, wire.ErrTimeout)
	}
	return answer, err
}

func (d *Driver) channel(id capture.ChannelID) (*Channel, error) {
	i, err := d.Channel(id)
	if err != nil {
		return nil, err
	}
	return &d.plan.Channels[i], nil
}
