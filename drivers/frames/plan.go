package frames

import (
	"errors"
	"fmt"
	"time"

	"steadyrail/capture"
)

// Plan is what a model file says about a meter that sends frames. It is a plain
// value and not changed by the driver. One of Lines and Segments is set.
type Plan struct {
	Lines    *Lines
	Segments *Segments
	// Ask are the bytes that make the meter send one frame; empty: it sends by
	// itself.
	Ask []byte
	// Agree is how many frames in a row must be alike, byte for byte, before
	// they are a reading; 0 and 1: each counts. It is the remedy for lines that
	// lose bits: see [Segments].
	Agree int
	// Listen is how long connecting waits for a frame that can be read; 0:
	// [DefaultListen].
	Listen   time.Duration
	Channels []Channel
}

// DefaultListen is several intervals of a slow handheld.
const DefaultListen = 4 * time.Second

// mostAgree bounds Agree: a reading must not take a minute.
const mostAgree = 5

// Channel is one position of the dial. The ID of its Info is the name alone;
// Group and Streams are filled in by the driver.
type Channel struct {
	Info capture.ChannelInfo
}

// dial is the group of all channels: the dial chooses one.
const dial = "dial"

// decoder reads one kind of frame. It keeps nothing between calls.
type decoder interface {
	// next looks for a frame at the front: so many bytes of noise, then a frame
	// of that length; length 0: it is not complete.
	next(received []byte) (skip, length int)
	// read tells what the display shows. The error wraps ErrMalformed, or
	// ErrRefused for a frame that is whole and shows no figure.
	read(frame []byte) (Display, error)
	// torn reports whether a frame that begins in the middle can look whole.
	torn() bool
}

// decoder makes the reader of the plan's frames.
func (p Plan) decoder() (decoder, error) {
	switch {
	case (p.Lines == nil) == (p.Segments == nil):
		return nil, errors.New("frames: want either lines or segments")
	case p.Lines != nil:
		return p.Lines.compile()
	}
	return p.Segments, p.Segments.check()
}

// Check returns what is wrong with the plan.
func (p Plan) Check() error {
	_, err := p.decoder()
	all := []error{err}
	if p.Agree < 0 || p.Agree > mostAgree {
		all = append(all, fmt.Errorf("agree: %d: want 1 to %d frames", p.Agree, mostAgree))
	}
	if len(p.Channels) == 0 {
		all = append(all, errors.New("channels: there is none"))
	}
	seen := map[capture.Quantity]capture.ChannelID{}
	for _, c := range p.Channels {
		if other, ok := seen[c.Info.Quantity]; ok {
			all = append(all, fmt.Errorf("channels %s and %s: both are %s, and the frames cannot tell which is meant", other, c.Info.ID, c.Info.Quantity))
		}
		seen[c.Info.Quantity] = c.Info.ID
	}
	return errors.Join(all...)
}

// Display is what a meter shows. The zero value shows nothing.
type Display struct {
	Quantity   capture.Quantity
	Value      float64 // base unit
	Resolution float64 // base unit, one count of the last digit
	// Text are the digits as they were shown, in the base unit: "12.34E-03" for
	// 12.34 mV. Empty without a value.
	Text  string
	Flags capture.Flags
}

// figure puts digits with a power of ten into a display.
func (d *Display) figure(digits string, power int) error {
	if power != 0 {
		digits = fmt.Sprintf("%sE%+03d", digits, power)
	}
	v, resolution, flags, err := capture.ParseResponse(digits)
	if err != nil {
		return fmt.Errorf("%w: %q is no figure", ErrMalformed, digits)
	}
	if d.Flags |= flags; flags != 0 {
		return nil
	}
	d.Value, d.Resolution, d.Text = v, resolution, digits
	return nil
}

// over marks a figure that the display has no room for.
func (d *Display) over(negative bool) {
	d.Flags |= capture.OverRange
	if negative {
		d.Flags ^= capture.OverRange | capture.UnderRange
	}
}

// relative refuses a display that shows a difference, except where the leads
// are taken off like that.
func (d *Display) relative() error {
	if d.Quantity == capture.Resistance || d.Quantity == capture.Capacitance {
		return nil
	}
	return fmt.Errorf("%w: its display shows a difference (relative): switch that off", ErrRefused)
}
