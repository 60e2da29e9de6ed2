package standin

import (
	"fmt"
	"math"

	"steadyrail/capture"
)

// Ripple is the volts peak to peak on an output capacitor of farad and ohm, for
// an inductor that swings by ampere: ΔI·(ESR + 1/(8·f·C)). The two parts are not
// in step, so that their sum is the most it can be.
func Ripple(swing, esr, frequency, farad float64) float64 {
	return float64(swing * (esr + 1/float64(8*frequency*farad)))
}

// ripple asks how far the output of a step-down stage swings.
func ripple(n Need, c Candidate) Check {
	if c.Topology != StepDown {
		return Check{Word: NotChecked, Say: "Its output ripple was not worked out: look at it with an oscilloscope, and where it lies in the audio band, listen."}
	}
	s, used, missing := worked(n, c)
	own := []named{{"output capacitor", c.OutCap}, {"its series resistance", c.OutESR}, {"ripple that the load bears", n.Ripple}}
	if missing = append(missing, lack(own...)...); len(missing) > 0 {
		return unsaid(missing)
	}
	v := Ripple(s.Swing, c.OutESR.Value, c.Frequency.Value, c.OutCap.Value)
	return Check{
		Word: under(v, n.Ripple.Value, n.Ripple.U), Value: v, Limit: n.Ripple.Value, Unit: capture.Volt.ASCII(),
		Basis: "ΔV = ΔI·(ESR + 1/(8·f·C)) (TI SLVA477B, equations 12 and 13, summed)", Source: sources(append(used, own...)...),
		Say: fmt.Sprintf("Its output ripples by %s at most, spikes apart; the load bears %s.", text(capture.Volt, v), text(capture.Volt, n.Ripple.Value)),
	}
}

func inputCapacitor(n Need, c Candidate) Check {
	if !c.switched() {
		return unseen()
	}
	s, used, missing := worked(n, c)
	bears := named{"what the input capacitor bears", c.InCapRMS}
	if missing = append(missing, lack(bears)...); len(missing) > 0 {
		return unsaid(missing)
	}
	return Check{
		Word: under(s.InputRMS, c.InCapRMS.Value, n.Peak.U/2), Value: s.InputRMS, Limit: c.InCapRMS.Value, Unit: capture.Ampere.ASCII(),
		Basis: "I = Io·√(D·(1−D)), largest over the input's range", Source: sources(append(used, bears)...),
		Say: fmt.Sprintf("Its input capacitor carries %s; it bears %s.", text(capture.Ampere, s.InputRMS), text(capture.Ampere, c.InCapRMS.Value)),
	}
}

// The band in which a beat is heard, in hertz (common practice).
const audible = 20e3

// beat asks whether two converters that run free beat where it can be heard:
// at the difference of their frequencies.
func beat(n Need, c Candidate) Check {
	if c.Topology == Linear {
		return Check{Word: NotNeeded, Say: "A linear regulator does not switch."}
	}
	own, other := named{"frequency", c.Frequency}, named{"frequency of the other converter", n.Beside}
	if n.Beside.Stated() && n.Beside.Value == 0 {
		return Check{Word: NotNeeded, Say: "No other converter is on the board.", Source: sources(other)}
	}
	if missing := lack(own, other); len(missing) > 0 {
		return unsaid(missing)
	}
	f := math.Abs(c.Frequency.Value - n.Beside.Value)
	return Check{
		Word: over(f, audible, root(c.Frequency.U, n.Beside.U)), Value: f, Limit: audible, Unit: capture.Hertz.ASCII(), Source: sources(own, other),
		Basis: "f1 − f2 above the audio band", Say: fmt.Sprintf("It beats with the other converter at %s; below %s it could be heard.", text(capture.Hertz, f), text(capture.Hertz, audible)),
	}
}
