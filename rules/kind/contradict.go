package kind

import (
	"time"

	"steadyrail/capture"
)

// What a value read by eye may differ from one that a meter measured on the same
// rail before anybody asks. Both are common practice: they let two poor meters
// and a wandering load pass, and catch a slip of the rail, the range or the set.
const (
	typedVolts = 0.25 // V, whatever the rail
	typedShare = 0.10 // of the larger magnitude
	typedTimes = 2.0  // one side of the short bound by so much, the other beyond it
)

// Contradicts reports whether a value read by eye and one that a meter measured
// on the same rail shortly before cannot both be true: volts that differ by more
// than two poor meters do, ohms of which one says short and the other not, ohms
// on a rail that has voltage. shortBelow is the rail's bound in ohm. Resistances
// above it are not compared: through semiconductors they follow from the meter.
func Contradicts(typed, measured capture.Reading, shortBelow float64) bool {
	switch {
	case typed.Quantity == capture.Resistance && measured.Quantity == capture.DCVoltage:
		return measured.HasValue() && abs(measured.Value) > DeadBelow
	case typed.Quantity != measured.Quantity:
		return false
	case typed.Quantity == capture.Resistance:
		return apart(typed, measured, shortBelow) || apart(measured, typed, shortBelow)
	case typed.Quantity != capture.DCVoltage || !measured.HasValue():
		return false
	case !typed.HasValue():
		return true // over range on volts, where a meter read a figure
	}
	a, b := typed.Value, measured.Value
	return abs(a-b) > max(typedVolts, float64(typedShare*max(abs(a), abs(b))))
}

// apart reports whether one resistance is short and another is clearly none.
func apart(short, other capture.Reading, below float64) bool {
	return short.HasValue() && short.Value < below && (!other.HasValue() || other.Value > float64(typedTimes*max(below, short.Value)))
}

// PresentInCold is the voltage above which a rail is not merely left with some
// charge in the cold checks, V: more than an injection may apply.
const PresentInCold = 0.5

// VoltsInCold reports whether a voltage read by eye says that the set is not cold.
func VoltsInCold(r capture.Reading) bool {
	return r.Quantity == capture.DCVoltage && (!r.HasValue() || abs(r.Value) > PresentInCold)
}

// Fresh reports whether a reading of a meter is young enough for a typed value to
// be held against it: a minute without power, like the proof that a rail is dead,
// and while it stands on the rail under power, where sets go on and off by hand.
func Fresh(r capture.Reading, age time.Duration, live bool) bool {
	within := ProofLasts
	if live {
		within = contactLost
	}
	said := r.HasValue() || r.Flags.Has(capture.OverRange)
	return said && !r.Flags.Has(capture.ByEye) && age <= within
}
