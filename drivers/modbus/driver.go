package modbus

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"sync/atomic"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/session"
	"steadyrail/drivers/wire"
)

// Options make a [Driver].
type Options struct {
	Info    capture.InstrumentInfo // without identity and channels
	Plan    Plan
	Unit    int // 1 to 247; on TCP also 0 and 255
	Framing Framing
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
	plan        Plan
	unit        byte
	framing     Framing
	transaction uint16   // of the last request
	acts        []string // what the configuration allows
	offExit     bool
	answered    atomic.Int64  // bytes of the frame that the newest value came in
	slowest     time.Duration // answer seen
	doubt       error         // why the next call must resynchronise; nil: in step
}

// ExitDeadline bounds the switching off at the end.
const ExitDeadline = 2 * time.Second

// New makes a driver. Nothing is opened before Connect. A plan that cannot be
// carried out, and a unit that there cannot be, are refused with
// [ErrNotAllowed].
func New(o Options) (*Driver, error) {
	if err := errors.Join(o.Plan.Check(), CheckUnit(o.Unit, o.Framing)); err != nil {
		return nil, err
	}
	d := &Driver{
		plan: o.Plan, unit: byte(o.Unit), framing: o.Framing, acts: o.Info.Acts, offExit: o.OffExit,
	}
	var channels []capture.ChannelInfo
	for _, c := range o.Plan.Channels {
		c.Info.Runs = true // registers hold what was measured last: reading them starts nothing
		channels = append(channels, c.Info)
	}
	d.Session = session.New(session.Options{
		Info: o.Info, Channels: channels, Expect: o.Expect, Every: o.Every, Baud: o.Baud,
		Dial: o.Dial,
	})
	return d, nil
}

// CheckUnit refuses addresses that a unit cannot have: 0 reaches all units of a
// pair and none of them answers.
func CheckUnit(unit int, f Framing) error {
	if unit >= 1 && unit <= 247 || f == TCP && (unit == 0 || unit == 255) {
		return nil
	}
	return fmt.Errorf("%w: address %d: want 1 to 247, on tcp also 0 or 255", ErrNotAllowed, unit)
}

// Transfer returns how long the frame of the newest value was on the line. How
// many characters its text has says nothing of that.
func (d *Driver) Transfer(int) time.Duration { return d.Session.Transfer(int(d.answered.Load())) }

// Close is the end: with OffExit and a connection it first switches the output
// off and has that confirmed.
func (d *Driver) Close() error {
	var err error
	if d.offExit && d.Link() != nil && d.plan.Output != nil {
		ctx, cancel := context.WithTimeout(context.Background(), ExitDeadline)
		defer cancel()
		_, err = d.output(ctx, "off")
	}
	if e := d.Leave(); err == nil {
		err = e
	}
	return err
}

// turns is how often a request is tried that another unit of the same link had
// left no quiet line for.
const turns = 3

// ask is the only way out. A link that another unit left in doubt is drained
// and asked again: late answers carry that unit's address. Whatever goes wrong
// with our own request, but a refusal, leaves the driver in doubt.
func (d *Driver) ask(ctx context.Context, r request) ([]byte, error) {
	if d.Link() == nil {
		return nil, ErrNotConnected
	}
	data, err := d.exchange(ctx, r, d.Link().Exchange)
	for range turns {
		if !errors.Is(err, wire.ErrInDoubt) || ctx.Err() != nil {
			break
		}
		data, err = d.exchange(ctx, r, d.afresh)
	}
	if err != nil && !errors.Is(err, ErrRefused) {
		d.doubt = err
	}
	return data, err
}

func (d *Driver) afresh(ctx context.Context, frame []byte, split wire.Split) ([]byte, error) {
	return wire.Afresh(ctx, d.Link(), frame, split)
}

// exchange is one request and the data of its answer.
func (d *Driver) exchange(ctx context.Context, r request, by func(context.Context, []byte, wire.Split) ([]byte, error)) ([]byte, error) {
	d.transaction++
	skipped := ""
	e := envelope{framing: d.framing, unit: d.unit, transaction: d.transaction, request: r, skipped: &skipped}
	asked := time.Now()
	frame, err := by(ctx, e.frame(), e.split())
	if err == nil {
		d.slowest = max(d.slowest, time.Since(asked))
	}
	if err != nil {
		if skipped != "" {
			err = fmt.Errorf("%w (%s)", err, skipped)
		}
		return nil, err
	}
	return e.open(frame)
}

func (d *Driver) channel(id capture.ChannelID) (*Channel, error) {
	i, err := d.Channel(id)
	if err != nil {
		return nil, err
	}
	return &d.plan.Channels[i], nil
}

// plain writes a number in the base unit, all its digits.
func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
