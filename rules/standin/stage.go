package standin

import (
	"fmt"
	"math"

	"steadyrail/capture"
)

// Stage is what a step-down power stage works out to, after TI SLVA477B.
type Stage struct {
	Duty      float64 // 1, equation 1
	Swing     float64 // A peak to peak in the inductor, equation 2
	Peak      float64 // A in the switch, equation 4
	DiodeMean float64 // A in a freewheeling diode, equation 7
	InputRMS  float64 // A in the input capacitor: Io·√(D(1−D))
}

// StepDownStage works out a stage from volts, efficiency, hertz, henry and the
// output current in ampere. Duty is taken at the highest input, where the
// inductor's swing is largest.
func StepDownStage(inHigh, out, efficiency, frequency, inductance, load float64) Stage {
	s := Stage{Duty: out / float64(inHigh*efficiency)}
	s.Swing = float64((inHigh-out)*s.Duty) / float64(frequency*inductance)
	s.Peak = s.Swing/2 + load
	s.DiodeMean = float64(load * (1 - s.Duty))
	s.InputRMS = float64(load * math.Sqrt(float64(s.Duty*(1-s.Duty))))
	return s
}

// InputRMS is the current in the input capacitor at a duty; it is largest, half
// the load, at a duty of one half.
func InputRMS(load, duty float64) float64 { return float64(load * math.Sqrt(float64(duty*(1-duty)))) }

// worked returns the stage of a candidate on a need, or what is missing for it.
func worked(n Need, c Candidate) (Stage, []named, []string) {
	used := []named{{"highest input", n.InHigh}, {"efficiency", c.Efficiency}, {"frequency", c.Frequency}, {"inductance", c.Inductance}, {"peak of the load", n.Peak}}
	if missing := lack(used...); len(missing) > 0 {
		return Stage{}, used, missing
	}
	return StepDownStage(math.Abs(n.InHigh.Value), math.Abs(n.Rail.Target), c.Efficiency.Value, c.Frequency.Value, c.Inductance.Value, n.Peak.Value), used, nil
}

func inductor(n Need, c Candidate) Check {
	if !c.switched() {
		return Check{Word: NotNeeded, Say: "It is no step-down stage of known parts."}
	}
	s, used, missing := worked(n, c)
	if !c.SwitchMax.Stated() {
		missing = append(missing, "lowest current limit of the switch")
	}
	if len(missing) > 0 {
		return unsaid(missing)
	}
	return Check{
		Word: under(s.Peak, c.SwitchMax.Value, n.Peak.U), Value: s.Peak, Limit: c.SwitchMax.Value, Unit: capture.Ampere.ASCII(),
		Basis: "ΔI = (Vin−Vout)·D/(f·L), peak = ΔI/2 + I (TI SLVA477B, equations 2 and 4)", Source: sources(append(used, named{"switch limit", c.SwitchMax})...),
		Say: fmt.Sprintf("Its inductor swings by %s and peaks at %s; the switch limits at %s.", text(capture.Ampere, s.Swing), text(capture.Ampere, s.Peak), text(capture.Ampere, c.SwitchMax.Value)),
	}
}

func ripple(n Need, c Candidate) Check {
	if !c.switched() {
		return Check{Word: NotChecked, Say: "Its output ripple was not worked out: look at it with an oscilloscope, and where it lies in the audio band, listen."}
	}
	s, used, missing := worked(n, c)
	own := []named{{"output capacitor", c.OutCap}, {"its series resistance", c.OutESR}, {"ripple that the load bears", n.Ripple}}
	if missing = append(missing, lack(own...)...); len(missing) > 0 {
		return unsaid(missing)
	}
	// The two parts are not in step: their sum is the most it can be.
	v := float64(s.Swing * (c.OutESR.Value + 1/float64(8*c.Frequency.Value*c.OutCap.Value)))
	return Check{
		Word: under(v, n.Ripple.Value, n.Ripple.U), Value: v, Limit: n.Ripple.Value, Unit: capture.Volt.ASCII(),
		Basis: "ΔV = ΔI·(ESR + 1/(8·f·C)) (TI SLVA477B, equations 12 and 13, summed)", Source: sources(append(used, own...)...),
		Say: fmt.Sprintf("Its output ripples by %s at most, spikes apart; the load bears %s.", text(capture.Volt, v), text(capture.Volt, n.Ripple.Value)),
	}
}

func inputCapacitor(n Need, c Candidate) Check {
	if !c.switched() {
		return Check{Word: NotNeeded, Say: "It is no step-down stage of known parts."}
	}
	used := []named{{"lowest input", n.InLow}, {"highest input", n.InHigh}, {"efficiency", c.Efficiency}, {"peak of the load", n.Peak}, {"what the input capacitor bears", c.InCapRMS}}
	if missing := lack(used...); len(missing) > 0 {
		return unsaid(missing)
	}
	rms := worstRMS(n, c)
	return Check{
		Word: under(rms, c.InCapRMS.Value, n.Peak.U/2), Value: rms, Limit: c.InCapRMS.Value, Unit: capture.Ampere.ASCII(),
		Basis: "I = Io·√(D·(1−D)), largest over the input's range", Source: sources(used...),
		Say: fmt.Sprintf("Its input capacitor carries %s; it bears %s.", text(capture.Ampere, rms), text(capture.Ampere, c.InCapRMS.Value)),
	}
}

// worstRMS is the largest over the duties that the input's range goes through.
func worstRMS(n Need, c Candidate) float64 {
	duty := func(in float64) float64 {
		return min(1, math.Abs(n.Rail.Target)/float64(math.Abs(in)*c.Efficiency.Value))
	}
	least, most := duty(n.InHigh.Value), duty(n.InLow.Value)
	if least <= 0.5 && most >= 0.5 {
		return n.Peak.Value / 2
	}
	return max(InputRMS(n.Peak.Value, least), InputRMS(n.Peak.Value, most))
}
