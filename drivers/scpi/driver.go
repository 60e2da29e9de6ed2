package scpi

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/wire"
)

// Dial opens the link of an instrument. It is called by Connect, again after
// each loss.
type Dial func(ctx context.Context) (wire.Link, error)

// Options make a [Driver].
type Options struct {
	Info    capture.InstrumentInfo // without identity and channels
	Plan    Plan
	Expect  capture.Identity // what is empty is not compared
	Every   time.Duration    // poll interval of all channels; 0: the plan's
	OffExit bool             // Close switches the output off, confirmed
	Dial    Dial
	Baud    int // of the line, for Transfer; 0: takes no time
}

// Driver is one instrument. Use [New]. Only Info and Resyncs are safe for use
// by other goroutines than the one that measures.
type Driver struct {
	plan    Plan
	expect  capture.Identity
	offExit bool
	dial    Dial
	baud    int

	link     wire.Link         // nil: not connected
	known    capture.Identity  // who answered first; empty before
	selected map[string]string // group to channel name
	doubt    error             // why the next call must resynchronise; nil: in step

	mu      sync.Mutex
	info    capture.InstrumentInfo // guarded by mu
	resyncs atomic.Uint64
}

// ExitDeadline bounds the switching off at the end.
const ExitDeadline = 2 * time.Second

// New makes a driver. Nothing is opened before Connect. A plan with a phrase
// that must not be sent is refused with [ErrNotAllowed].
func New(o Options) (*Driver, error) {
	if err := o.Plan.Check(); err != nil {
		return nil, err
	}
	d := &Driver{plan: o.Plan, expect: o.Expect, offExit: o.OffExit, dial: o.Dial, baud: o.Baud, info: o.Info, selected: map[string]string{}}
	d.info.Channels = nil
	for _, c := range o.Plan.Channels {
		every := c.Every
		if o.Every != 0 {
			every = o.Every
		}
		d.info.Channels = append(d.info.Channels, capture.ChannelInfo{
			ID: capture.ChannelID(o.Info.Name + "/" + c.Name), Quantity: c.Quantity, Every: every,
			Aperture: c.Aperture, Lag: c.Lag, Accuracy: c.Ranges, Setpoint: c.ReadBack, Group: c.Group,
		})
	}
	return d, nil
}

// Info describes the instrument. The identity is empty before the first
// Connect.
func (d *Driver) Info() capture.InstrumentInfo {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.info
}

// Resyncs counts how often the driver had to find its place in the answers
// again.
func (d *Driver) Resyncs() uint64 { return d.resyncs.Load() }

// Transfer returns how long so many characters of ten bits are on the line.
func (d *Driver) Transfer(characters int) time.Duration {
	if d.baud <= 0 {
		return 0
	}
	return time.Duration(characters) * 10 * time.Second / time.Duration(d.baud)
}

// Drop gives the link up and sends nothing. Calling it twice is harmless.
func (d *Driver) Drop() error {
	if d.link == nil {
		return nil
	}
	err := d.link.Close()
	d.link = nil
	return err
}

// Close is the end: with OffExit and a connection it first switches the output
// off and has that confirmed.
func (d *Driver) Close() error {
	var err error
	if d.offExit && d.link != nil && d.plan.Output != nil {
		ctx, cancel := context.WithTimeout(context.Background(), ExitDeadline)
		defer cancel()
		_, err = d.output(ctx, "off")
	}
	if e := d.Drop(); err == nil {
		err = e
	}
	return err
}

// send and ask are the only ways out. What must never be sent was refused by
// New, and is refused here again.
func (d *Driver) send(ctx context.Context, phrase string) error {
	if d.link == nil {
		return ErrNotConnected
	}
	if err := CheckPhrase(phrase); err != nil {
		return err
	}
	return d.link.Send(ctx, phrase)
}

// ask sends a query of the plan or of this package, and leaves the driver in
// doubt when anything goes wrong.
func (d *Driver) ask(ctx context.Context, phrase string) (string, error) {
	if d.link == nil {
		return "", ErrNotConnected
	}
	answer, err := d.link.Query(ctx, phrase)
	if err != nil {
		d.doubt = err
	}
	return answer, err
}

// failed names the instrument in an error, and lets go of a link that is gone.
func (d *Driver) failed(what string, err error) error {
	if errors.Is(err, wire.ErrGone) || errors.Is(err, wire.ErrStuck) || errors.Is(err, wire.ErrClosed) {
		_ = d.Drop() // the cause is err
	}
	return fmt.Errorf("%s: %s: %w", d.info.Name, what, err)
}

func (d *Driver) channel(id capture.ChannelID) (*Channel, error) {
	name, ok := strings.CutPrefix(string(id), d.info.Name+"/")
	if ok {
		for i := range d.plan.Channels {
			if d.plan.Channels[i].Name == name {
				return &d.plan.Channels[i], nil
			}
		}
	}
	return nil, fmt.Errorf("%w: %s", ErrNoChannel, id)
}
