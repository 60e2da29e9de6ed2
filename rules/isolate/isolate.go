// Package isolate judges a lift: a resistance to the return read before and
// after one part or connector was taken off a rail. What left with it is a
// conductance, and a conductance has an uncertainty; beside a dead short that
// uncertainty hides nearly everything, and the package says so beforehand.
//
// The reading is R' = (1+γ)R + δ + ε with gain error γ and lead error δ common
// to both readings on one range, and contact scatter ε of each touch. To first
// order, with G = 1/R',
//
//	u²(ΔG) = (ΔG u_γ)² + ((G1²−G2²) u_δ)² + (G1² u_ε1)² + (G2² u_ε2)²
//
// Decision and detection limits are 1.645 u and 3.29 u (Currie 1968; ISO 11929;
// the factors are from memory and equal the one-sided 95 % points of the normal
// distribution).
//
// The package computes; it keeps nothing and is safe for concurrent use.
package isolate

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"steadyrail/capture"
)

const (
	decide = 1.645 // one-sided 95 % point of the normal distribution
	detect = 3.29  // decision and detection at 95 % each
)

// Shares of the conductance that convict and acquit (the project's choice).
const (
	ConvictAbove = 0.5  // lower bound of the share that left
	AcquitBelow  = 0.05 // upper bound of the share that left
)

// ErrReading is wrapped when a resistance cannot be used.
var ErrReading = errors.New("not a resistance that can be compared")

// Doubt is what is not known about the two readings.
type Doubt struct {
	Gain    float64 // standard uncertainty of the meter's gain, part of the reading
	Leads   float64 // ohm, standard uncertainty of the nulled lead resistance
	Contact float64 // ohm, standard deviation of one touch
}

// Word is what follows from a lift.
type Word string

// The words.
const (
	Acquitted  Word = "acquitted"
	Convicted  Word = "convicted"
	CannotTell Word = "cannot tell"
	Changed    Word = "something else changed"
)

// Lift is the comparison of two readings.
type Lift struct {
	Before, After float64 // ohm
	Left          float64 // siemens, the conductance that left
	U             float64 // siemens, its standard uncertainty
	Share         float64 // Left over the conductance before
	ShareLow      float64 // bounds of the share, 95 % one-sided each
	ShareHigh     float64
}

// Compare works out what left. An infinite After is an open circuit. The error
// wraps ErrReading when a resistance is not positive.
func Compare(before, after float64, d Doubt) (Lift, error) {
	if !(before > 0) || math.IsInf(before, 0) || !(after > 0) {
		return Lift{}, fmt.Errorf("%w: %g ohm before and %g ohm after; both must be above zero", ErrReading, before, after)
	}
	g1, g2 := 1/before, 1/after
	l := Lift{Before: before, After: after, Left: g1 - g2}
	l.U = norm(l.Left*d.Gain, (float64(g1*g1)-float64(g2*g2))*d.Leads, g1*g1*d.Contact, g2*g2*d.Contact)
	l.Share = l.Left / g1
	l.ShareLow = (l.Left - float64(decide*l.U)) / g1
	l.ShareHigh = (l.Left + float64(decide*l.U)) / g1
	return l, nil
}

func norm(parts ...float64) float64 {
	var sum float64
	for _, p := range parts {
		sum += float64(p * p)
	}
	return math.Sqrt(sum)
}

// Highest returns the highest resistance, in ohm, of a branch whose lifting
// could be told at all while standing ohm remain to the return: the detection
// limit for a small change, 1/(3.29·√2·G²·u_ε).
func Highest(standing float64, d Doubt) float64 {
	g := 1 / standing
	return 1 / (detect * math.Sqrt2 * g * g * d.Contact)
}

// Could says, before a part is lifted, what the lift could tell while standing
// ohm remain on the rail.
func Could(standing float64, d Doubt) string {
	high := Highest(standing, d)
	text := capture.Ohm.Text(high, resolutionOf(high))
	if high >= showsAll {
		return "a lift can tell every branch below " + text
	}
	return "a lift can tell a branch only below " + text + "; use four wires, or walk the short"
}

// showsAll is the branch, in ohm, from which on any part worth a lift shows: a
// leak beyond it hardly loads a rail (common practice).
const showsAll = 1000.0

// resolutionOf keeps two significant digits.
func resolutionOf(v float64) float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		return 1
	}
	return capture.Decade(v) / 10
}

// Judge says what follows. Conviction needs the lifted part's own reading off
// the board: lifting may have opened a branch, not found a part. Off is that
// reading in ohm, 0 when it was not taken; short is what counts as one.
func (l Lift) Judge(off, short float64) (Word, string) {
	share := l.left()
	switch {
	case l.Left < -float64(detect*l.U):
		return Changed, "the conductance rose by " + percent(-l.Share, math.Round) + " %, which no lift does: something else changed. Look for a slipped probe, heat or another part, and read again"
	case l.ShareHigh < AcquitBelow:
		return Acquitted, share + ": what was lifted does not carry the short"
	case l.ShareLow > ConvictAbove && off > 0 && off < short:
		return Convicted, share + ", and by itself it reads " + capture.Ohm.Text(off, 0.01)
	case l.ShareLow > ConvictAbove && off > 0:
		return CannotTell, share + ", but by itself it reads " + capture.Ohm.Text(off, 0.01) + ": the short sits behind what was opened"
	case l.ShareLow > ConvictAbove:
		return CannotTell, share + ": read the lifted part by itself before it is convicted"
	}
	return CannotTell, share + ": the contact scatter hides it; clip the leads, or use four wires"
}

// left says what part of the conductance left. It is a part of something, so it
// is never told as less than nothing or more than all; where nothing may have
// left, only the most is told.
func (l Lift) left() string {
	high := math.Min(l.ShareHigh, 1)
	switch {
	case high <= 0:
		return "no measurable part of the conductance left"
	case l.ShareLow <= 0:
		return "no more than " + percent(high, math.Ceil) + " % of the conductance left"
	}
	return percent(math.Min(l.Share, 1), math.Round) + " % of the conductance left (" + percent(l.ShareLow, math.Floor) + " to " + percent(high, math.Ceil) + " %)"
}

// percent prints a share with two significant digits, three near the whole: a
// lower bound is rounded down, an upper one up.
func percent(share float64, round func(float64) float64) string {
	p := 100 * share
	scale := 10.0 // one decimal
	if p < 90 {
		scale = min(1e9, max(1, math.Round(10/capture.Decade(p))))
	}
	p = round(float64(math.Round(float64(p*scale*1e6))/1e6)) / scale // 0.78 is no more than 0.78
	return strconv.FormatFloat(p, 'f', -1, 64)
}
