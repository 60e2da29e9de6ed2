package standin

import (
	"errors"
	"fmt"
	"math"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// Limiter is a resistor or a lamp in series with a set, before it is
// switched on through it, and the set. Everything is in base units. A lamp is stated by its
// rated volts and watts; then Ohm is zero.
type Limiter struct {
	Source    float64 `json:"source"`               // V of what feeds it
	Ohm       float64 `json:"ohm,omitempty"`        // of a resistor
	LampVolts float64 `json:"lamp_volts,omitempty"` // rated
	LampWatts float64 `json:"lamp_watts,omitempty"` // rated
	Power     float64 `json:"power"`                // W that the set draws, constant over its input
	Peak      float64 `json:"peak,omitempty"`       // W that it draws while it starts; 0: as Power
	Lowest    float64 `json:"lowest,omitempty"`     // V below which it stops; 0: not stated
}

// Point is where a limiter and a set of constant power meet.
type Point struct {
	Set     float64 `json:"set"`     // V across the set
	Ampere  float64 `json:"ampere"`  // A through both
	Limiter float64 `json:"limiter"` // W in the limiter
	Stable  bool    `json:"stable"`  // the set holds itself there
}

// Limited is what comes of it.
type Limited struct {
	Word       Word     `json:"word"`         // fits: it can start; cannot tell: with this limiter nothing is proved
	Say        string   `json:"say"`          // a sentence
	MostOhm    float64  `json:"most_ohm"`     // ohm, Vs²/(4·Pin): above it there is no operating point
	MostWatts  float64  `json:"most_watts"`   // W that this limiter lets through at most
	Cold       float64  `json:"cold_ohm"`     // ohm of the limiter cold
	Hot        float64  `json:"hot_ohm"`      // ohm at the operating point, else at rated volts
	Points     []Point  `json:"points"`       // the stable one first; none, or two
	Short      float64  `json:"short_watts"`  // W in the limiter when the set is a short
	ShortAmps  float64  `json:"short_ampere"` // A then
	LowestMeet bool     `json:"above_lowest"` // the set keeps more than Lowest
	Basis      string   `json:"basis"`        // formula and according to whom
	Cautions   []string `json:"cautions"`     // to be read before it is switched on
}

const (
	// lampExponent is how a tungsten lamp's current follows its volts: I ∝ V^0.54
	// (lamp engineering, from memory).
	lampExponent = 0.54
	// lampCold is how many times less a cold filament has than a hot one (common
	// practice: 10 to 15).
	lampCold = 12
	// sure is how much of what a limiter lets through may be asked for before a
	// start through it is sure: a rectifier draws in pulses, lamps differ (common
	// practice).
	sure = 0.8
)

var limiterCautions = []string{
	"On the mains side it does not isolate: everything behind it, off or on, is at mains; local codes and licensed practice govern work there.",
	"Charged capacitors stay charged through it: measure before touching. The limiter gets hot enough to burn.",
}

// LimiterOhm is the most resistance in ohm that may stand in series with a
// converter that draws a constant power in watt from a source of volts: above
// Vs²/(4·Pin) there is no operating point and a healthy converter restarts for
// ever.
func LimiterOhm(volts, watts float64) float64 { return float64(volts*volts) / float64(4*watts) }

// Check reports the first thing that is wrong with the question.
func (l Limiter) Check() error {
	lamp := l.LampVolts != 0 || l.LampWatts != 0
	for _, f := range []struct {
		name   string
		v      float64
		needed bool
		ask    string // when it is missing
	}{
		{"source", l.Source, true, "say the volts of the source"}, {"power", l.Power, true, "say the watts that the set draws"},
		{"resistor", l.Ohm, !lamp, "say what is in series: a resistor in ohm, or a lamp with its volts and watts"},
		{"volts of the lamp", l.LampVolts, lamp, "say the volts of the lamp"}, {"watts of the lamp", l.LampWatts, lamp, "say the watts of the lamp"},
		{name: "start power", v: l.Peak}, {name: "lowest", v: l.Lowest},
	} {
		switch {
		case math.IsNaN(f.v) || f.v < 0 || f.v > 1e6:
			return fmt.Errorf("%s: %g is beyond anything a bench has", f.name, f.v)
		case f.needed && f.v == 0:
			return errors.New(f.ask)
		case f.v != 0 && f.v < 1e-6:
			return fmt.Errorf("%s: %g is too little to be meant", f.name, f.v)
		}
	}
	if lamp && l.Ohm != 0 {
		return errors.New("a resistor or a lamp: not both")
	}
	return nil
}

// current through the limiter with volts across it.
func (l Limiter) current(across float64) float64 {
	if l.LampVolts == 0 {
		return across / l.Ohm
	}
	rated := l.LampWatts / l.LampVolts
	hot := rated * elementary.Power(across/l.LampVolts, lampExponent)
	return min(hot, across/l.coldOhm()) // a filament is never colder than cold
}

func (l Limiter) coldOhm() float64 {
	if l.LampVolts == 0 {
		return l.Ohm
	}
	return float64(l.LampVolts*l.LampVolts) / l.LampWatts / lampCold
}

// into is the power that reaches a set which keeps so many volts.
func (l Limiter) into(set float64) float64 { return float64(set * l.current(l.Source-set)) }

// halvings brings a bracket of volts below a microvolt.
const halvings = 60

// best is the volts at which most power reaches the set, and that power. The
// power has one maximum: it is searched in thirds.
func (l Limiter) best() (set, watts float64) {
	low, high := 0.0, l.Source
	for range 2 * halvings {
		a, b := low+(high-low)/3, high-(high-low)/3
		if l.into(a) < l.into(b) {
			low = a
		} else {
			high = b
		}
	}
	set = (low + high) / 2
	return set, l.into(set)
}

// meet finds where the set draws watts, between two voltages of which the first
// lets too much through.
func (l Limiter) meet(much, little, watts float64) Point {
	for range halvings {
		mid := (much + little) / 2
		if l.into(mid) >= watts {
			much = mid
		} else {
			little = mid
		}
	}
	i := l.current(l.Source - much)
	return Point{Set: much, Ampere: i, Limiter: float64((l.Source - much) * i)}
}

// Judge says whether a set of constant power can start through the limiter. The
// question must have passed [Limiter.Check].
func (l Limiter) Judge() Limited {
	set, most := l.best()
	out := Limited{MostOhm: LimiterOhm(l.Source, l.Power), MostWatts: most, Cold: l.coldOhm(), Cautions: limiterCautions, Points: []Point{}}
	out.ShortAmps = l.current(l.Source)
	out.Short = float64(l.Source * out.ShortAmps)
	out.Hot = l.Source / out.ShortAmps
	out.Basis = "A load of constant power on Vs − I·R: V² − Vs·V + R·P = 0, real below R = Vs²/(4·P)"
	if l.LampVolts != 0 {
		out.Basis = "A load of constant power on a lamp of I ∝ V^0.54, cold a twelfth of its rated resistance (from memory; common practice)"
	}
	if most >= l.Power {
		out.Points = []Point{l.meet(set, l.Source, l.Power), l.meet(set, 0, l.Power)}
		out.Points[0].Stable = true
		out.Hot = (l.Source - out.Points[0].Set) / out.Points[0].Ampere
	}
	l.conclude(&out)
	return out
}

// conclude finds the word and says it.
func (l Limiter) conclude(out *Limited) {
	asks := max(l.Power, l.Peak)
	limit := fmt.Sprintf("With %s and %s the most is %s.", text(capture.Volt, l.Source), text(capture.Watt, l.Power), text(capture.Ohm, out.MostOhm))
	if len(out.Points) == 0 {
		out.Word = CannotTell
		out.Say = fmt.Sprintf("Cannot tell with this limiter: it lets %s through at most and the set draws %s, so that a healthy one restarts for ever. %s", text(capture.Watt, out.MostWatts), text(capture.Watt, l.Power), limit)
		return
	}
	at := out.Points[0]
	sees := fmt.Sprintf("The set sees %s and draws %s; the limiter turns %s into heat.", text(capture.Volt, at.Set), text(capture.Ampere, at.Ampere), text(capture.Watt, at.Limiter))
	switch {
	case at.Set < l.Lowest:
		out.Word, out.Say = CannotTell, fmt.Sprintf("Cannot tell with this limiter: the set would see %s and stops below %s. %s", text(capture.Volt, at.Set), text(capture.Volt, l.Lowest), limit)
	case asks > out.MostWatts:
		out.Word, out.Say = CannotTell, fmt.Sprintf("Cannot tell with this limiter: it runs through it, but asks for %s to start and gets %s at most. %s", text(capture.Watt, asks), text(capture.Watt, out.MostWatts), limit)
	case asks > float64(sure*out.MostWatts):
		out.Word, out.Say = CannotTell, fmt.Sprintf("Cannot tell with this limiter: it asks for %s of the %s that come through, which is too close. %s", text(capture.Watt, asks), text(capture.Watt, out.MostWatts), limit)
	default:
		out.Word, out.Say = Fits, fmt.Sprintf("It can start through it. %s %s", sees, limit)
		if l.Lowest == 0 {
			out.Say += " Below which volts it stops is not stated."
		}
	}
}

// Rows tells the figures by name, in the order in which they are read.
func (r Limited) Rows() [][2]string {
	rows := [][2]string{
		{"Most resistance, Vs²/(4·P)", text(capture.Ohm, r.MostOhm)}, {"This limiter, cold", text(capture.Ohm, r.Cold)}, {"This limiter, at work", text(capture.Ohm, r.Hot)},
		{"Lets through at most", text(capture.Watt, r.MostWatts)},
	}
	for _, p := range r.Points {
		name := "The set holds itself at"
		if !p.Stable {
			name = "It collapses below"
		}
		rows = append(rows, [2]string{name, fmt.Sprintf("%s, %s, %s in the limiter", text(capture.Volt, p.Set), text(capture.Ampere, p.Ampere), text(capture.Watt, p.Limiter))})
	}
	if len(r.Points) == 0 {
		rows = append(rows, [2]string{"The set holds itself at", "no voltage at all"})
	}
	return append(rows, [2]string{"With the set a short", fmt.Sprintf("%s, %s in the limiter", text(capture.Ampere, r.ShortAmps), text(capture.Watt, r.Short))})
}
