package standin

import (
	"fmt"
	"math"

	"steadyrail/capture"
)

// Estimate is what was worked out of a candidate's heat before it was fitted: at
// the steady load and an ambient. It is kept, so that a soak can be held against it.
type Estimate struct {
	Ambient   Figure  `json:"ambient"`   // °C that it holds for
	Watts     Figure  `json:"watts"`     // W of heat
	Junction  Figure  `json:"junction"`  // °C
	Top       Figure  `json:"top"`       // °C of the top of its package; not stated: ψ is not
	Psi       Figure  `json:"psi"`       // K/W from junction to top
	Most      Figure  `json:"most"`      // °C, the highest junction allowed
	PeakRatio float64 `json:"peak_part"` // heat at the worst load and input over Watts
}

// Estimate works it out; ok is false when a figure for it is missing.
func (c Candidate) Estimate(n Need) (e Estimate, ok bool) {
	if heat(n, c).Word == NotStated {
		return e, false
	}
	watts, uw := loss(n, c)
	e = Estimate{Ambient: n.Ambient, Psi: c.Top, Most: c.Junction, PeakRatio: 1}
	e.Watts = Figure{Value: watts, U: uw, Source: "worked out"}
	rise := float64(watts * c.PerWatt.Value)
	e.Junction = Figure{Value: n.Ambient.Value + rise, U: root(n.Ambient.U, c.PerWatt.Value*uw, watts*c.PerWatt.U), Source: "Tj = Ta + P·θ"}
	if c.Top.Stated() {
		through := c.PerWatt.Value - c.Top.Value // from the top on to the air
		e.Top = Figure{Value: n.Ambient.Value + float64(watts*through), U: root(n.Ambient.U, through*uw, watts*root(c.PerWatt.U, c.Top.U)), Source: "Ttop = Ta + P·(θ − ψ)"}
	}
	if worst := n; worst.Peak.Stated() && n.Load.Value > 0 {
		worst.Load = n.Peak
		most, _ := loss(worst, c)
		e.PeakRatio = max(1, most/watts)
	}
	return e, true
}

// Soaked is an estimate held against what a soak measured.
type Soaked struct {
	Estimated float64 `json:"estimated"` // °C of the top, at the ambient of the soak
	Measured  float64 `json:"measured"`  // °C
	U         float64 `json:"u"`         // °C, expanded, of their difference
	Junction  float64 `json:"junction"`  // °C, from the measured top
	Worst     float64 `json:"worst"`     // °C, that junction at the worst ambient and load
	Word      Word    `json:"word"`
	Say       string  `json:"say"`
}

// Against holds the estimate against a top that was measured while the air beside
// the part was at ambient, both in °C. Cooler than estimated is no fault; and the
// worst case of the junction decides.
func (e Estimate) Against(top, ambient Figure) Soaked {
	s := Soaked{Measured: top.Value}
	if !e.Top.Stated() || !e.Psi.Stated() {
		s.Word, s.Say = NotStated, fmt.Sprintf("Measured %s. Not stated: cannot judge. Missing: thermal resistance from junction to top.", whole(top.Value))
		return s
	}
	s.Estimated = e.Top.Value - e.Ambient.Value + ambient.Value
	s.U = root(e.Top.U, top.U, ambient.U)
	junction, u := Junction(top, e.Watts, e.Psi)
	s.Junction = junction
	s.Worst = Worst(junction, ambient.Value, max(e.Ambient.Value, ambient.Value), 0, e.PeakRatio)
	s.Word = worse(under(s.Worst, e.Most.Value, root(u, e.Ambient.U)), hotter(s))
	s.Say = fmt.Sprintf("Estimated %s, measured %s with air of %s beside it. Its junction is at %s ± %s; at the worst load and air it comes to %s, and %s is allowed.",
		whole(s.Estimated), whole(s.Measured), whole(ambient.Value), whole(s.Junction), kelvin(u), whole(s.Worst), whole(e.Most.Value))
	if hotter(s) != Fits {
		s.Say += " It runs hotter than worked out: look for what was left out before it is signed."
	}
	return s
}

// hotter is "cannot tell" when the measured one lies above the estimate by more
// than their doubt: what the estimate left out is in the worst case too.
func hotter(s Soaked) Word {
	if s.Measured-s.Estimated > s.U {
		return CannotTell
	}
	return Fits
}

func whole(celsius float64) string { return capture.Celsius.Text(math.Round(celsius), 1) }

func kelvin(u float64) string { return fmt.Sprintf("%.2g K", u) }

// Worst carries a measured junction to the worst case, all in °C: the hottest
// ambient, the rise with covers on as it was measured, and the heat at the worst
// load and input, by which the part of the rise that is the part's own scales.
func Worst(junction, ambient, ambientMost, coversRise, wattsRatio float64) float64 {
	own := junction - ambient
	return ambientMost + coversRise + float64(own*wattsRatio)
}
