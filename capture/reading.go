package capture

import (
	"fmt"
	"strings"
	"time"
)

// ChannelID names one measured quantity of one instrument:
// "dmm/volts". The part before the slash is the instrument's name.
type ChannelID string

// Instrument returns the part before the slash.
func (c ChannelID) Instrument() string {
	name, _, _ := strings.Cut(string(c), "/")
	return name
}

// Input returns the part after the slash.
func (c ChannelID) Input() string {
	_, name, _ := strings.Cut(string(c), "/")
	return name
}

// Flags say what is special about a reading. A reading with a flag of
// [NoValue] has no number.
type Flags uint16

// The flags. OverRange to Mismatch leave no value to use.
const (
	OverRange    Flags = 1 << iota // above the range, open leads in ohms
	UnderRange                     // below the range, negative infinity
	NotANumber                     // the instrument said so (9.91E37)
	TimedOut                       // no complete answer in time
	Garbled                        // an answer that cannot be read
	Disconnected                   // the link is gone
	Mismatch                       // another instrument answered than was expected
	Refused                        // the instrument reported an error instead
	Held                           // the display is on hold: an old value
	LowBattery                     // the meter's battery is low: no verdict
	Limiting                       // a supply in constant current
	Typed                          // entered by hand
	ByEye                          // read by eye from a display
)

// NoValue are the flags under which Value means nothing.
const NoValue = OverRange | UnderRange | NotANumber | TimedOut | Garbled | Disconnected | Mismatch | Refused

// NoVerdict are the flags under which nothing may be judged from the value.
const NoVerdict = NoValue | Held | LowBattery

var flagNames = [...]string{"over_range", "under_range", "not_a_number", "timeout", "garbled", "disconnected", "mismatch", "refused", "held", "low_battery", "limiting", "typed", "by_eye"}

// Has reports whether any of the given flags is set.
func (f Flags) Has(g Flags) bool { return f&g != 0 }

// String lists the set flags, separated by "+".
func (f Flags) String() string {
	var out []string
	for i, name := range flagNames {
		if f&(1<<i) != 0 {
			out = append(out, name)
		}
	}
	return strings.Join(out, "+")
}

// ParseFlags is the inverse of String.
func ParseFlags(s string) (Flags, error) {
	var f Flags
next:
	for _, part := range strings.Split(s, "+") {
		if part == "" {
			continue
		}
		for i, name := range flagNames {
			if name == part {
				f |= 1 << i
				continue next
			}
		}
		return 0, fmt.Errorf("unknown flag %q", part)
	}
	return f, nil
}

// MarshalText writes String.
func (f Flags) MarshalText() ([]byte, error) { return []byte(f.String()), nil }

// UnmarshalText reads String.
func (f *Flags) UnmarshalText(b []byte) error {
	v, err := ParseFlags(string(b))
	*f = v
	return err
}

// Outcome names how a poll ended, for the counters: "good", or the first flag
// that takes the value away.
func (f Flags) Outcome() string {
	if bad := f & NoValue; bad != 0 {
		for i, name := range flagNames {
			if bad&(1<<i) != 0 {
				return name
			}
		}
	}
	return "good"
}

// Outcomes lists every name that Outcome can return.
func Outcomes() []string {
	out := []string{"good"}
	for i, name := range flagNames {
		if NoValue&(1<<i) != 0 {
			out = append(out, name)
		}
	}
	return out
}

// Reading is one value of one channel. When it was answered stands in its
// [Record], and orders everything.
type Reading struct {
	Channel    ChannelID
	Quantity   Quantity
	Value      float64       // base unit of the quantity; 0 and meaningless under NoValue
	Text       string        // the digits as the instrument sent them, base unit: "5.0120E+00"; "" if computed or without value
	Resolution float64       // base unit, one count of the last digit; 0 when not known
	Range      float64       // base unit; 0 when not known
	Flags      Flags         //
	Measured   Instant       // best estimate of the middle of the aperture
	HalfWidth  time.Duration // half of what is not known about Measured
	Ordinal    uint64        // counts this channel's readings from 1
}

// Good reports whether the reading carries a value that may be judged.
func (r Reading) Good() bool { return !r.Flags.Has(NoVerdict) }

// HasValue reports whether Value is a number that was measured.
func (r Reading) HasValue() bool { return !r.Flags.Has(NoValue) }

// Sampled is when the reading saw what it is of: the middle of its aperture where
// that is known, else at, when it was answered.
func (r *Reading) Sampled(at Instant) Instant {
	if r.Measured != 0 {
		return r.Measured
	}
	return at
}
