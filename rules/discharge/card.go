package discharge

import (
	"fmt"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// Word answers whether the resistor bears it.
type Word string

// The words.
const (
	Fits       Word = "fits"
	CannotTell Word = "cannot tell"
	TooSmall   Word = "does not fit"
	NotStated  Word = "not stated"
)

// pulse is what a wire-wound resistor bears for some seconds, in parts of its
// rating (common practice: five to ten); its data sheet says it.
const pulse = 5

// Answer is what a card comes to.
type Answer struct {
	Tau    time.Duration // R C
	Wait   time.Duration // R C ln(V0/V): first-order law, IEC 60950-1 2.1.1.7 quotes its 37 %; 0: below the level already
	Peak   float64       // watt, V0²/R, in the first moment
	Energy float64       // joule, C V0²/2, all of it goes into the resistor
	Rating Word
	Say    []string
}

// Reckon answers a card that was validated.
func Reckon(d capture.Discharge) Answer {
	tau := float64(d.Ohms * d.Farads)
	square := float64(d.Volts * d.Volts)
	a := Answer{Tau: span(tau), Peak: square / d.Ohms, Energy: d.Farads * square / 2}
	if d.Volts > d.Level {
		a.Wait = span(tau * elementary.Log(d.Volts/d.Level))
	}
	a.Rating = rating(d, a)
	a.Say = []string{a.sayWait(d), a.sayHeat(), a.sayRating(d)}
	return a
}

// span turns seconds into a length without overflow.
func span(seconds float64) time.Duration {
	return time.Duration(min(seconds, 1e9) * float64(time.Second))
}

// rating holds the resistor's rating against the first moment, where the power
// is greatest.
func rating(d capture.Discharge, a Answer) Word {
	switch {
	case d.Watts == 0:
		return NotStated
	case d.Watts >= a.Peak:
		return Fits
	case float64(pulse*d.Watts) >= a.Peak && a.Energy <= float64(pulse*d.Watts):
		return CannotTell
	}
	return TooSmall
}

func (a Answer) sayWait(d capture.Discharge) string {
	level := Level(d.Level)
	if a.Wait == 0 {
		return fmt.Sprintf("%s is below %s to begin with. Measure all the same.", Level(d.Volts), level)
	}
	return fmt.Sprintf("From %s to %s in %s, if R and C are what they say. Measure: the wait proves nothing.", Level(d.Volts), level, Seconds(a.Wait))
}

func (a Answer) sayHeat() string {
	return fmt.Sprintf("The resistor takes %s in the first moment and %s in all.", capture.Watt.Text(a.Peak, digits(a.Peak)), joules(a.Energy))
}

func (a Answer) sayRating(d capture.Discharge) string {
	rated := capture.Watt.Text(d.Watts, digits(d.Watts))
	switch a.Rating {
	case Fits:
		return "Its rating of " + rated + " is enough. Its highest voltage is another figure: see its data sheet."
	case CannotTell:
		return fmt.Sprintf("Its rating of %s is exceeded %.1f times for a moment: cannot tell, its data sheet has a pulse curve.", rated, a.Peak/d.Watts)
	case TooSmall:
		return fmt.Sprintf("Its rating of %s is too small: the first moment has %.0f times as much. Take a higher resistance, or a larger resistor.", rated, a.Peak/d.Watts)
	}
	return "Its rating is not stated: not judged."
}

// Level says a level, or any voltage that somebody typed, with its own digits.
func Level(v float64) string { return capture.Volt.Text(v, 0) }

// Seconds writes a length as a count-down has it: three digits below a minute.
func Seconds(d time.Duration) string {
	if d >= time.Minute {
		d = d.Round(time.Second)
		return fmt.Sprintf("%d min %d s", int(d.Minutes()), int(d.Seconds())%60)
	}
	return capture.Second.Text(d.Seconds(), max(0.001, digits(d.Seconds())))
}

// joules has no unit of its own on the bench; what a capacitor of one holds lies
// between microjoules and kilojoules.
func joules(v float64) string {
	switch {
	case v >= 1:
		return fmt.Sprintf("%.3g J", v)
	case v >= 1e-3:
		return fmt.Sprintf("%.3g mJ", v*1e3)
	}
	return fmt.Sprintf("%.3g µJ", v*1e6)
}

// digits is the resolution that leaves three digits of v.
func digits(v float64) float64 {
	if v == 0 {
		return 0.001
	}
	return capture.Decade(v) / 100
}
