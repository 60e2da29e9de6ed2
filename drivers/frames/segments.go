package frames

import (
	"fmt"
	"math/bits"

	"steadyrail/capture"
)

// FrameLength is how many bytes a segment frame has.
const FrameLength = 14

// Segments describe a meter whose chip sends its display: 14 bytes, each with
// its index from 1 to 14 in the upper four bits, and four segments of the
// display in the lower. Four digits of seven segments, the sign, three points,
// and what is lit around them. The serial line is usually 2400 8N1.
//
// The table of bits beside this is from memory of the chip maker's data sheet, and has
// not been held against the document. Four bits of the last byte are wired as
// each meter's maker likes; what they mean stands in the model.
//
// # What this format cannot tell
//
// There is no check sum. An index out of order, a pattern that is no digit, two
// units, two prefixes or two points at once, a volt without AC or DC are seen,
// and give no reading. But a single wrong bit can turn one legal display into
// another: 8 into 0, 6 or 9, 1 into 7, plus into minus, a point on or off, milli
// on or off. Of all single wrong bits in frames of four digits with a unit, one in
// thirteen (7.7 %) does so and keeps the quantity, counted by the test; half of
// the bits are index and are always seen. A bad line makes wrong bits in many
// frames, but hardly the same twice running: Plan.Agree 2 takes a reading only
// from two equal frames in a row. A segment that is always dark it cannot find.
type Segments struct {
	Celsius int // bit mask in the last byte that means °C; 0: the meter has none
	Held    int // further mask in the last byte that means the display stands still (MAX, MIN, peak)
	Nothing int // bits of the last byte that mean nothing here; any other is not taken
}

func (s *Segments) check() error {
	if s == nil {
		return nil
	}
	for _, m := range []int{s.Celsius, s.Held, s.Nothing} {
		if m < 0 || m > 15 {
			return fmt.Errorf("segments: mask %d: want bits of the last four, 0 to 15", m)
		}
	}
	if s.Celsius&s.Held|s.Celsius&s.Nothing|s.Held&s.Nothing != 0 {
		return fmt.Errorf("segments: one bit has two meanings")
	}
	if bits.OnesCount(uint(s.Celsius)) > 1 {
		return fmt.Errorf("segments: celsius: want one bit")
	}
	return nil
}

// indexed reports how many bytes from the front carry the indices 1, 2, 3...
func indexed(b []byte) int {
	n := 0
	for n < len(b) && n < FrameLength && int(b[n]>>4) == n+1 {
		n++
	}
	return n
}

// next skips to the first byte from which the indices run on. A frame with a
// byte missing, doubled or damaged in its index is skipped whole.
func (s *Segments) next(received []byte) (skip, length int) {
	for ; skip < len(received); skip++ {
		switch n := indexed(received[skip:]); {
		case n == FrameLength:
			return skip, FrameLength
		case n > 0 && skip+n == len(received):
			return skip, 0 // so far, so good
		}
	}
	return skip, 0
}

// torn: the indices show where a frame begins.
func (s *Segments) torn() bool { return false }

func (s *Segments) read(frame []byte) (Display, error) {
	d, err := s.display(frame)
	if err != nil {
		return Display{}, fmt.Errorf("%w (frame % x)", err, frame)
	}
	return d, nil
}

func malformed(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrMalformed, fmt.Sprintf(format, args...))
}

func (s *Segments) display(frame []byte) (Display, error) {
	if len(frame) != FrameLength || indexed(frame) != FrameLength {
		return Display{}, malformed("want %d bytes with their indices in order", FrameLength)
	}
	digits, point, err := digitsOf(frame)
	if err != nil {
		return Display{}, err
	}
	var d Display
	power, err := s.unit(&d, frame)
	if err != nil {
		return Display{}, err
	}
	if lit(frame, lampHold) || int(frame[13])&s.Held != 0 {
		d.Flags |= capture.Held
	}
	if lit(frame, lampEmpty) {
		d.Flags |= capture.LowBattery
	}
	if lit(frame, lampDelta) {
		if err := d.relative(); err != nil {
			return Display{}, err
		}
	}
	negative := lit(frame, lampMinus)
	if negative && unsigned[d.Quantity] && !lit(frame, lampDelta) {
		return Display{}, malformed("%s below nothing", d.Quantity)
	}
	return d, d.fill(digits, point, power, negative)
}

// unsigned are the quantities that are not below nothing, save for a difference.
var unsigned = map[capture.Quantity]bool{
	capture.ACVoltage: true, capture.ACCurrent: true, capture.Resistance: true, capture.DiodeDrop: true,
	capture.Capacitance: true, capture.Frequency: true, capture.Ratio: true,
}

// digitsOf reads the four places, and how many of them stand in front of the
// point.
func digitsOf(frame []byte) (digits string, point int, err error) {
	var out [4]byte
	for i := range out {
		pattern := frame[1+2*i]&7<<4 | frame[2+2*i]&15
		c, ok := figures[pattern]
		if !ok {
			return "", 0, malformed("segments %#02x of digit %d are no figure", pattern, i+1)
		}
		out[i] = c
	}
	point = len(out)
	for i, l := range lampPoint {
		if lit(frame, l) {
			if point != len(out) {
				return "", 0, malformed("two points are lit")
			}
			point = i + 1
		}
	}
	return string(out[:]), point, nil
}

// unit reads the one unit and the one prefix that are lit, and the power of ten
// that they are.
func (s *Segments) unit(d *Display, frame []byte) (power int, err error) {
	last := int(frame[13]) & 15
	if odd := last &^ (s.Celsius | s.Held | s.Nothing); odd != 0 {
		return 0, malformed("bit %#x of the last byte is lit, and the model does not say what it means", odd)
	}
	letter, power, err := prefixOf(frame)
	if err != nil {
		return 0, err
	}
	prefixes, units := " ", 0
	if s.Celsius != 0 && last&s.Celsius != 0 {
		d.Quantity, units = capture.Temperature, 1
	}
	for _, u := range unitLamps {
		if lit(frame, u.lamp) {
			d.Quantity, prefixes = u.quantity(frame), u.prefixes
			units++
			power += u.power
		}
	}
	switch {
	case units > 1:
		return 0, malformed("two units are lit")
	case units == 0 && letter == ' ':
		return 0, fmt.Errorf("%w: its display shows no unit", ErrRefused)
	case units == 0 || d.Quantity == capture.NoQuantity:
		return 0, malformed("what is lit beside the figure is no unit")
	}
	for i := range len(prefixes) {
		if prefixes[i] == letter {
			return power, nil
		}
	}
	return 0, malformed("prefix %q does not belong to %s", letter, d.Quantity)
}

// quantity tells AC from DC. A diode's drop is a volt with its sign beside it.
func (u unitLamp) quantity(frame []byte) capture.Quantity {
	ac, dc, diode := lit(frame, lampAC), lit(frame, lampDC), lit(frame, lampDiode)
	switch {
	case u.lamp == lampVolt && diode && !ac:
		return capture.DiodeDrop
	case diode:
		return capture.NoQuantity
	case u.alternat == capture.NoQuantity:
		return u.direct
	case ac && !dc:
		return u.alternat
	case dc && !ac:
		return u.direct
	}
	return capture.NoQuantity
}

func prefixOf(frame []byte) (letter byte, power int, err error) {
	letter = ' '
	for _, p := range prefixLamps {
		if lit(frame, p.lamp) {
			if letter != ' ' {
				return 0, 0, malformed("two prefixes are lit")
			}
			letter, power = p.letter, p.power
		}
	}
	return letter, power, nil
}
