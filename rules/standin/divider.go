package standin

import (
	"fmt"
	"math"

	"steadyrail/capture"
)

// Divider sets an output: the reference stands across one resistor, Held, and
// the other carries the same current and the bias current of the pin:
//
//	Vout = Vref·(1 + Other/Held) + Ibias·Other
//
// With a feedback pin Held goes to the return and Other to the output; a
// floating three-terminal regulator has Held from output to pin and Other from
// pin to return (data sheets of both).
type Divider struct {
	Reference Figure  `json:"reference"` // V
	Held      Figure  `json:"held"`      // ohm, its fixed part
	Other     Figure  `json:"other"`     // ohm, its fixed part
	Bias      Figure  `json:"bias"`      // A; not stated: neglected, and said
	Trim      Figure  `json:"trim"`      // ohm of the trimmer, end to end
	TrimIn    string  `json:"trim_in"`   // "held" or "other": which it is in series with
	Tied      bool    `json:"tied"`      // wiper tied to one end: open, it leaves the whole track
	Tolerance float64 `json:"tolerance"` // of the fixed resistors, part of one
	TrimTol   float64 `json:"trim_tolerance"`
}

// Set is the output in volt for resistances in ohm.
func (d Divider) Set(held, other float64) float64 {
	return float64(d.Reference.Value*(1+other/held)) + float64(d.Bias.Value*other)
}

// Span returns the lowest and the highest output that any position of the
// trimmer gives with any resistor inside its tolerance.
func (d Divider) Span() (low, high float64) {
	little, much := 1-d.Tolerance, 1+d.Tolerance
	track := float64(d.Trim.Value * (1 + d.TrimTol))
	held, other := [2]float64{d.Held.Value * little, d.Held.Value * much}, [2]float64{d.Other.Value * little, d.Other.Value * much}
	if d.TrimIn == "held" {
		held[1] += track
	} else {
		other[1] += track
	}
	return d.Set(held[1], other[0]), d.Set(held[0], other[1])
}

// Open returns the output with the wiper lifted off its track: +Inf when
// nothing holds it.
func (d Divider) Open() float64 {
	switch {
	case d.Tied && d.TrimIn == "held":
		return d.Set(d.Held.Value+d.Trim.Value, d.Other.Value)
	case d.Tied:
		return d.Set(d.Held.Value, d.Other.Value+d.Trim.Value)
	case d.TrimIn == "held":
		return d.Reference.Value + float64(d.Bias.Value*d.Other.Value) // no current but the pin's
	}
	return math.Inf(1)
}

// Propose returns a divider that no position takes beyond low and high volt: a
// fixed resistor and a trimmer in Held, so that an open wiper drives the output
// down, for a given Other. The trimmer is one of the usual 1, 2, 5 steps.
func Propose(reference, other Figure, low, high, tolerance float64, s Series) Divider {
	d := Divider{Reference: reference, Other: other, TrimIn: "held", Tolerance: tolerance, TrimTol: 0.2}
	// At the upper end Other is at its largest and Held at its smallest.
	most := other.Value * (1 + tolerance)
	fixed := Nearest(most/(high/reference.Value-1)/(1-tolerance), s, Above)
	d.Held = Figure{Value: fixed, Source: fmt.Sprintf("E%d, nearest above", int(s))}
	// At the lower end the track must reach although it is short, Other at its
	// largest and the fixed part at its smallest.
	least := most / (low/reference.Value - 1)
	d.Trim = Figure{Value: trimmerAbove((least - float64(fixed*(1-tolerance))) / (1 - d.TrimTol)), Source: "usual value, nearest above"}
	return d
}

// trimmerAbove is the usual track of at least ohm: 10, 20, 50 and their decades
// (common practice).
func trimmerAbove(ohm float64) float64 {
	ohm = max(10, ohm)
	decade := capture.Decade(ohm)
	for _, step := range []float64{1, 2, 5, 10} {
		if v := float64(step * decade); v >= ohm-float64(1e-9*ohm) {
			return v
		}
	}
	return 10 * decade
}

// trimmer asks that no position of the trimmer exceeds what the load survives,
// that the target is among them, and which way an open wiper goes.
func trimmer(n Need, c Candidate) Check {
	d := c.Divider
	if d == nil || !d.Trim.Stated() {
		return Check{Word: NotNeeded, Say: "No trimmer is stated."}
	}
	used := []named{{"reference", d.Reference}, {"resistor with the reference across it", d.Held}, {"other resistor", d.Other}, {"trimmer", d.Trim}, {"what the load survives", n.Survives}}
	missing := lack(used...)
	if d.TrimIn != "held" && d.TrimIn != "other" {
		missing = append(missing, "which resistor the trimmer is in series with")
	}
	if len(missing) > 0 {
		return unsaid(missing)
	}
	low, high := d.Span()
	survives, target, open := math.Abs(n.Survives.Value), math.Abs(n.Rail.Target), d.Open()
	check := Check{Word: under(high, survives, n.Survives.U), Value: high, Limit: survives, Unit: capture.Volt.ASCII(), Basis: setBasis + " at the ends of the track and of the tolerances", Source: sources(used...)}
	check.Say = fmt.Sprintf("The trimmer goes from %s to %s; the load survives %s.", text(capture.Volt, low), text(capture.Volt, high), text(capture.Volt, survives))
	switch {
	case target < low || target > high:
		check.Word = Unfit
		check.Say += fmt.Sprintf(" The target of %s is not among them.", text(capture.Volt, target))
	case math.IsInf(open, 1):
		check.Word = Unfit
		check.Say += " An open wiper drives the output up to its input: put the trimmer where it drives it down, or tie the wiper to an end."
	case open > survives:
		check.Word = Unfit
		check.Say += fmt.Sprintf(" An open wiper gives %s.", text(capture.Volt, open))
	default:
		check.Say += fmt.Sprintf(" An open wiper gives %s. Seal it when it is set, or put fixed parts in its place.", text(capture.Volt, open))
	}
	if check.Word != Fits {
		check.Say += d.proposal(n)
	}
	return check
}
