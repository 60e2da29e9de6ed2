package modbus

import (
	"errors"
	"fmt"

	"steadyrail/capture"
	"steadyrail/drivers/session"
)

// Table is one of the protocol's address spaces.
type Table int

// The tables in use. Holding is the zero value.
const (
	Holding Table = iota
	Input
	Coil
)

var tableNames = map[Table]string{Holding: "holding register", Input: "input register", Coil: "coil"}

func (t Table) String() string { return tableNames[t] }

func (t Table) function() byte {
	return map[Table]byte{Holding: readHolding, Input: readInput, Coil: readCoils}[t]
}

// Plan is what a model file says about an instrument that is read by registers.
// Registers count from 0, as they travel. It is a plain value and not changed by
// the driver.
type Plan struct {
	Channels []Channel
	Identity Identity
	Limiting *Bits   // nil: the instrument does not tell
	Output   *Output // nil: there is none
	Limits   []Limit
	Multiple bool // the unit has no function 6: single registers are written by 16
}

// Channel is one measured quantity.
type Channel struct {
	Info     capture.ChannelInfo // the ID is the name alone
	Table    Table               // Holding or Input
	Register int
	Format   Format
	// Raw contents of the registers that stand for no number.
	OverRange, UnderRange, NotANumber []uint64
	Resolution                        float64 // base unit; 0: one count of the scale
	Limiting                          bool    // ask the limiting bits with each reading
}

// Bits are some bits of a register.
type Bits struct {
	Table    Table // Holding or Input
	Register int
	Mask     uint16
}

// Identity is where an instrument says who it is. What is nil it does not say.
type Identity struct {
	Maker, Model, Serial, Firmware *Block
}

// Block is a text of two characters a register, or an unsigned number.
type Block struct {
	Table    Table // Holding or Input
	Register int
	Words    int // a text: 1 to 32; a number: 1, 2 or 4
	Number   bool
	Format   Format // of a number
}

// Output is a supply's switch: a coil, or a holding register with two values.
type Output struct {
	Table    Table // Holding or Coil
	Register int
	On, Off  uint16 // of a register
	Ask      *Bits  // where it is read back; nil: where it was written
}

// Limit is a set-point in holding registers.
type Limit struct {
	Name     string // volts, amperes, over-voltage, over-current
	Unit     capture.Unit
	Register int
	Ask      int // where it is read back; -1: where it was written
	Format   Format
	Step     float64 // base unit; what is read back may be this far off; 0: one count
	Max      float64 // base unit; more is refused unsent
	Always   bool    // of a protection: by its maker it acts whenever the output is on
}

// guard is what the plan says of how a protection comes to act.
func (l Limit) guard() session.Guard {
	if l.Always {
		return session.Always
	}
	return session.NotStated
}

func (l Limit) ask() int {
	if l.Ask < 0 {
		return l.Register
	}
	return l.Ask
}

// step is how far the read-back may be off, and what it is shown with.
func (l Limit) step() float64 {
	if l.Step > 0 {
		return l.Step
	}
	return l.Format.Scale.Step()
}

// longestText is 64 characters.
const longestText = 32

// Check looks for what cannot be read or written. Errors wrap [ErrNotAllowed].
func (p Plan) Check() error {
	var all []error
	wrong := func(what string, err error) {
		if err != nil {
			all = append(all, fmt.Errorf("%w: %s: %w", ErrNotAllowed, what, err))
		}
	}
	for _, c := range p.Channels {
		wrong("channel "+string(c.Info.ID), errors.Join(c.Format.Check(), span(c.Register, c.Format.words()), noCoil(c.Table)))
		if c.Format.Float && c.Resolution <= 0 {
			wrong("channel "+string(c.Info.ID), errors.New("float32 does not say how fine it is: add resolution"))
		}
	}
	for name, b := range p.Identity.blocks() {
		wrong("identity "+name, b.check())
	}
	if p.Limiting != nil {
		wrong("limiting", p.Limiting.check())
	}
	if p.Output != nil {
		wrong("output", p.Output.check())
	}
	for _, l := range p.Limits {
		wrong("limit "+l.Name, l.check())
	}
	return errors.Join(all...)
}

func span(from, count int) error {
	if from < 0 || from+count > 1<<16 {
		return fmt.Errorf("register %d: registers go from 0 to 65535", from)
	}
	return nil
}

func noCoil(t Table) error {
	if t != Holding && t != Input {
		return errors.New("table: want holding or input")
	}
	return nil
}

func (id Identity) blocks() map[string]*Block {
	out := map[string]*Block{"maker": id.Maker, "model": id.Model, "serial": id.Serial, "firmware": id.Firmware}
	for name, b := range out {
		if b == nil {
			delete(out, name)
		}
	}
	return out
}

func (b Block) check() error {
	err := errors.Join(span(b.Register, b.Words), noCoil(b.Table))
	switch {
	case b.Number && (b.Format.Float || b.Format.Signed || b.Format.words() != b.Words):
		return errors.Join(err, errors.New("a number is unsigned, of 1, 2 or 4 words"))
	case b.Number:
		return errors.Join(err, b.Format.Check())
	case b.Words < 1 || b.Words > longestText:
		return errors.Join(err, fmt.Errorf("words %d: a text has 1 to %d", b.Words, longestText))
	}
	return err
}

func (b Bits) check() error {
	err := errors.Join(span(b.Register, 1), noCoil(b.Table))
	if b.Mask == 0 {
		err = errors.Join(err, errors.New("mask: want one or more bits"))
	}
	return err
}

func (o Output) check() error {
	err := span(o.Register, 1)
	switch {
	case o.Table == Input:
		err = errors.Join(err, errors.New("input registers cannot be written"))
	case o.Table == Holding && o.On == o.Off:
		err = errors.Join(err, errors.New("on and off are the same"))
	}
	if o.Ask != nil {
		err = errors.Join(err, o.Ask.check())
	}
	return err
}

func (l Limit) check() error {
	err := errors.Join(l.Format.Check(), span(l.Register, l.Format.words()), span(l.ask(), l.Format.words()))
	if l.Max <= 0 {
		return errors.Join(err, errors.New("max must be more than nothing"))
	}
	if err != nil {
		return err
	}
	if _, e := l.Format.encode(plain(l.Max)); e != nil {
		return fmt.Errorf("max: %w", e)
	}
	return nil
}

// Acts lists what can be done to an instrument of this plan.
func (p Plan) Acts() []string {
	var out []string
	if p.Output != nil {
		out = append(out, string(capture.ActOutput))
	}
	if len(p.Limits) > 0 {
		out = append(out, string(capture.ActLimits))
	}
	return out
}
