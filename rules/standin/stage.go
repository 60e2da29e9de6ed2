package standin

import (
	"fmt"
	"math"

	"steadyrail/capture"
)

// Stage is what a switched power stage works out to. For a step-down stage the
// equations are those of TI SLVA477B; for a step-up and an inverting one the
// inductor carries Io/(1−D) and swings by Vin·D/(f·L) (from memory of handbooks).
type Stage struct {
	Duty     float64 // 1
	Swing    float64 // A peak to peak in the inductor
	Peak     float64 // A in the switch
	Diode    float64 // A, mean, in the diode
	InputRMS float64 // A in the input capacitor
}

// Power is what a stage is worked out from, in base units and by magnitude.
type Power struct {
	In, Out, Load         float64
	Efficiency            float64 // 1; used where the drops are not both stated
	Frequency, Inductance float64
	Switch, Diode         float64 // V across them while they carry
	Drops                 bool    // they are stated
}

// Duty is the part of the time that the switch is on. With drops it follows from
// the volts on the inductor, else from the efficiency (SLVA477B, equation 1).
func (p Power) Duty(t Topology) float64 {
	if p.Drops {
		off := p.Out + p.Diode // V on the inductor while the switch is off
		on := p.In - p.Switch
		switch t {
		case StepUp:
			off -= p.In
		case StepDown:
			on -= p.Out
		}
		return off / (off + on)
	}
	in := float64(p.In * p.Efficiency)
	switch t {
	case StepUp:
		return max(0, 1-in/p.Out)
	case Inverting:
		return p.Out / (p.Out + in)
	}
	return p.Out / in
}

// Stage works a stage out at one input voltage.
func (p Power) Stage(t Topology) Stage {
	s := Stage{Duty: p.Duty(t)}
	across := p.In - p.Switch
	carries := p.Load
	if t == StepDown {
		across -= p.Out
	} else {
		carries = p.Load / (1 - s.Duty)
	}
	s.Swing = float64(across*s.Duty) / float64(p.Frequency*p.Inductance)
	s.Peak = s.Swing/2 + carries
	s.Diode = float64(carries * (1 - s.Duty))
	switch t {
	case StepDown:
		s.InputRMS = InputRMS(p.Load, s.Duty)
	case StepUp:
		s.InputRMS = s.Swing / math.Sqrt(12) // a triangle's
	default:
		s.InputRMS = InputRMS(carries, s.Duty)
	}
	return s
}

// InputRMS is the current in the input capacitor at a duty: Io·√(D(1−D)). It is
// largest, half the load, at a duty of one half.
func InputRMS(load, duty float64) float64 {
	return float64(load * math.Sqrt(max(0, float64(duty*(1-duty)))))
}

// power gathers a candidate's stage on a need at an input voltage.
func power(n Need, c Candidate, in float64) Power {
	return Power{
		In: math.Abs(in), Out: math.Abs(n.Rail.Target), Load: n.Peak.Value, Efficiency: c.Efficiency.Value, Frequency: c.Frequency.Value, Inductance: c.Inductance.Value,
		Switch: c.SwitchDrop.Value, Diode: c.DiodeDrop.Value, Drops: c.SwitchDrop.Stated() && c.DiodeDrop.Stated(),
	}
}

// worked returns the stage of a candidate where its switch carries most and where
// its inductor swings most, over the range of the input, or what is missing.
func worked(n Need, c Candidate) (most Stage, used []named, missing []string) {
	used = []named{{"lowest input", n.InLow}, {"highest input", n.InHigh}, {"frequency", c.Frequency}, {"inductance", c.Inductance}, {"peak of the load", n.Peak}}
	if p := power(n, c, 0); p.Drops {
		used = append(used, named{"drop of the switch", c.SwitchDrop}, named{"drop of the diode", c.DiodeDrop})
	} else {
		used = append(used, named{"efficiency", c.Efficiency})
	}
	if missing = lack(used...); len(missing) > 0 {
		return Stage{}, used, missing
	}
	most = power(n, c, n.InHigh.Value).Stage(c.Topology)
	low := power(n, c, n.InLow.Value).Stage(c.Topology)
	most.Swing, most.Peak, most.Diode = max(most.Swing, low.Swing), max(most.Peak, low.Peak), max(most.Diode, low.Diode)
	most.Duty = max(most.Duty, low.Duty)
	most.InputRMS = worstRMS(n, c, most.InputRMS, low.InputRMS)
	return most, used, nil
}

// worstRMS is the largest over the duties that the input's range goes through: a
// step-down stage's peaks in between.
func worstRMS(n Need, c Candidate, ends ...float64) float64 {
	least, most := power(n, c, n.InHigh.Value).Duty(c.Topology), power(n, c, n.InLow.Value).Duty(c.Topology)
	if c.Topology == StepDown && least <= 0.5 && most >= 0.5 {
		return n.Peak.Value / 2
	}
	return max(ends[0], ends[1])
}

// unseen is the answer about a stage whose parts nobody sees.
func unseen() Check {
	return Check{Word: NotNeeded, Say: "It is no switched stage of known parts."}
}

func inductor(n Need, c Candidate) Check {
	if !c.switched() {
		return unseen()
	}
	s, used, missing := worked(n, c)
	if !c.SwitchMax.Stated() {
		missing = append(missing, "lowest current limit of the switch")
	}
	if len(missing) > 0 {
		return unsaid(missing)
	}
	if s.Duty >= 1 {
		return Check{Word: Unfit, Value: s.Duty, Limit: 1, Source: sources(used...), Say: "It cannot make this output from the lowest input: its switch would be on all the time."}
	}
	u := n.Peak.U
	if c.Topology != StepDown {
		u /= 1 - s.Duty
	}
	return Check{
		Word: under(s.Peak, c.SwitchMax.Value, u), Value: s.Peak, Limit: c.SwitchMax.Value, Unit: capture.Ampere.ASCII(),
		Basis: inductorBasis(c.Topology), Source: sources(append(used, named{"switch limit", c.SwitchMax})...),
		Say: fmt.Sprintf("Its inductor swings by %s and peaks at %s; the switch limits at %s.", text(capture.Ampere, s.Swing), text(capture.Ampere, s.Peak), text(capture.Ampere, c.SwitchMax.Value)),
	}
}

func inductorBasis(t Topology) string {
	if t == StepDown {
		return "ΔI = (Vin−Vout)·D/(f·L), peak = ΔI/2 + I (TI SLVA477B, equations 2 and 4)"
	}
	return "ΔI = Vin·D/(f·L), peak = ΔI/2 + I/(1−D) at the lowest input (from memory of handbooks)"
}

// diode asks what the diode of the stage carries and blocks.
func diode(n Need, c Candidate) Check {
	if !c.switched() {
		return unseen()
	}
	bears, blocks := named{"current of the diode", c.Diode}, named{"reverse voltage of the diode", c.DiodeBack}
	if c.Diode.Stated() && c.Diode.Value == 0 {
		return Check{Word: NotNeeded, Say: "A switch is in the diode's place.", Source: sources(bears)}
	}
	s, used, missing := worked(n, c)
	if missing = append(missing, lack(bears, blocks)...); len(missing) > 0 {
		return unsaid(missing)
	}
	back := math.Abs(n.InHigh.Value)
	if c.Topology == Inverting {
		back += math.Abs(n.Rail.Target)
	} else if c.Topology == StepUp {
		back = math.Abs(n.Rail.Target)
	}
	return Check{
		Word:  worse(under(s.Diode, c.Diode.Value, n.Peak.U), under(back, c.DiodeBack.Value, n.InHigh.U)),
		Value: s.Diode, Limit: c.Diode.Value, Unit: capture.Ampere.ASCII(), Source: sources(append(used, bears, blocks)...),
		Basis: "I = I·(1−D) (TI SLVA477B, equation 7); it blocks the input, of an inverting stage input and output together",
		Say:   fmt.Sprintf("Its diode carries %s and blocks %s; it bears %s and %s.", text(capture.Ampere, s.Diode), text(capture.Volt, back), text(capture.Ampere, c.Diode.Value), text(capture.Volt, c.DiodeBack.Value)),
	}
}
