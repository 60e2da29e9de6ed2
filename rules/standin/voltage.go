package standin

import (
	"fmt"
	"math"

	"steadyrail/capture"
)

// inputRange asks whether what feeds the rail stays inside what the candidate
// takes, from the valley of the ripple at low mains to high mains without load.
func inputRange(n Need, c Candidate) Check {
	low, high, takes, bears := named{"lowest input", n.InLow}, named{"highest input", n.InHigh}, named{"candidate's lowest input", c.InLow}, named{"candidate's highest input", c.InHigh}
	if missing := lack(low, high, takes, bears); len(missing) > 0 {
		return unsaid(missing)
	}
	inLow, inHigh := math.Abs(n.InLow.Value), math.Abs(n.InHigh.Value)
	from, to := over(inLow, c.InLow.Value, n.InLow.U), under(inHigh, c.InHigh.Value, n.InHigh.U)
	check := Check{Word: worse(from, to), Unit: capture.Volt.ASCII(), Source: sources(low, high, takes, bears)}
	check.Value, check.Limit = inHigh, c.InHigh.Value
	if to == Fits && from != Fits {
		check.Value, check.Limit = inLow, c.InLow.Value
	}
	check.Say = fmt.Sprintf("It is fed %s to %s and takes %s to %s.", text(capture.Volt, inLow), text(capture.Volt, inHigh), text(capture.Volt, c.InLow.Value), text(capture.Volt, c.InHigh.Value))
	if check.Word == Fits && 2*inHigh > c.InHigh.Value {
		check.Say += " Plugged in live, a bare ceramic input capacitor can ring to nearly twice the input (common practice): damp it, or connect it dead."
	}
	return check
}

// worse returns the word that decides of two.
func worse(a, b Word) Word {
	rank := map[Word]int{Fits: 0, CannotTell: 1, NotStated: 2, Unfit: 3}
	if rank[b] > rank[a] {
		return b
	}
	return a
}

// duty asks for the part of the time that a switch is on at its lowest input,
// where that is longest.
func duty(n Need, c Candidate) Check {
	p := power(n, c, n.InLow.Value)
	used := []named{{"lowest input", n.InLow}, {"largest duty", c.DutyMax}}
	basis := "D = Vout/(Vin·η) at the lowest input (TI SLVA477B, equation 1)"
	switch {
	case p.Drops:
		basis = "D from the volts on the inductor, drops of switch and diode counted, at the lowest input"
		used = append(used, named{"drop of the switch", c.SwitchDrop}, named{"drop of the diode", c.DiodeDrop})
	case c.Topology != StepDown:
		basis = "D from Vin·η and Vout at the lowest input (from memory of handbooks)"
		fallthrough
	default:
		used = append(used, named{"efficiency", c.Efficiency})
	}
	if missing := lack(used...); len(missing) > 0 {
		return unsaid(missing)
	}
	d := p.Duty(c.Topology)
	return Check{
		Word: under(d, c.DutyMax.Value, d*n.InLow.U/p.In), Value: d, Limit: c.DutyMax.Value, Basis: basis, Source: sources(used...),
		Say: fmt.Sprintf("At the valley of its input it is on for %.0f %% of the time; it can be for %.0f %%.", 100*d, 100*c.DutyMax.Value),
	}
}

// headroom asks whether enough is left at the valley of the input.
func headroom(n Need, c Candidate) Check {
	in, out := math.Abs(n.InLow.Value), math.Abs(n.Rail.Target)
	switch c.Topology {
	case Linear:
		if missing := lack(named{"lowest input", n.InLow}, named{"dropout at the load", c.Dropout}); len(missing) > 0 {
			return unsaid(missing)
		}
		left := in - out
		return Check{
			Word: over(left, c.Dropout.Value, root(n.InLow.U, c.Dropout.U)), Value: left, Limit: c.Dropout.Value, Unit: capture.Volt.ASCII(),
			Basis: "Vin − Vout at the valley of the input", Source: sources(named{"lowest input", n.InLow}, named{"dropout", c.Dropout}),
			Say: fmt.Sprintf("%s are left across it at the valley of its input; it asks for %s.", text(capture.Volt, left), text(capture.Volt, c.Dropout.Value)),
		}
	case StepDown, StepUp, Inverting:
		return duty(n, c)
	}
	return Check{Word: NotNeeded, Say: "Its input range says it all."}
}

// outputRange asks whether the target lies where the output can be set to.
func outputRange(n Need, c Candidate) Check {
	low, high := named{"lowest output", c.OutLow}, named{"highest output", c.OutHigh}
	if missing := lack(low, high); len(missing) > 0 {
		return unsaid(missing)
	}
	out := math.Abs(n.Rail.Target)
	word := worse(over(out, c.OutLow.Value, c.OutLow.U), under(out, c.OutHigh.Value, c.OutHigh.U))
	limit := c.OutHigh.Value
	if out < c.OutLow.Value {
		limit = c.OutLow.Value
	}
	return Check{
		Word: word, Value: out, Limit: limit, Unit: capture.Volt.ASCII(), Source: sources(low, high),
		Say: fmt.Sprintf("The rail wants %s; it makes %s to %s.", text(capture.Volt, out), text(capture.Volt, c.OutLow.Value), text(capture.Volt, c.OutHigh.Value)),
	}
}

// current asks for the peak at the hottest ambient, after derating.
func current(n Need, c Candidate) Check {
	peak, rated, ambient := named{"peak of the load", n.Peak}, named{"rated current", c.Current}, named{"ambient", n.Ambient}
	if missing := lack(peak, rated, ambient); len(missing) > 0 {
		return unsaid(missing)
	}
	may, basis := c.Current.Value, "rated current; no derating stated"
	used := []named{peak, rated, ambient}
	if c.DerateFrom.Stated() && c.DeratePerK.Stated() {
		may -= float64(max(0, n.Ambient.Value+n.Ambient.U-c.DerateFrom.Value) * c.DeratePerK.Value)
		basis = "rated current less the derating above its knee, at the hottest ambient"
		used = append(used, named{"derating from", c.DerateFrom}, named{"derating", c.DeratePerK})
	}
	return Check{
		Word: under(n.Peak.Value, may, n.Peak.U), Value: n.Peak.Value, Limit: may, Unit: capture.Ampere.ASCII(), Basis: basis, Source: sources(used...),
		Say: fmt.Sprintf("The load draws %s at most; at %s it may give %s.", text(capture.Ampere, n.Peak.Value), text(capture.Celsius, n.Ambient.Value), text(capture.Ampere, may)),
	}
}

// returnDrop asks what the way back takes from the load, which is measured from
// load plus to load minus.
func returnDrop(n Need, _ Candidate) Check {
	way, peak := named{"resistance of the return", n.ReturnOhm}, named{"peak of the load", n.Peak}
	if missing := lack(way, peak); len(missing) > 0 {
		return unsaid(missing)
	}
	half := n.Rail.HalfBand()
	drop := float64(n.ReturnOhm.Value * n.Peak.Value)
	return Check{
		Word: under(drop, half, root(n.ReturnOhm.U*n.Peak.Value, n.Peak.U*n.ReturnOhm.Value)), Value: drop, Limit: half, Unit: capture.Volt.ASCII(),
		Basis: "drop in the return at the peak, against half the band", Source: sources(way, peak),
		Say: fmt.Sprintf("The return takes %s at the peak of the load; half the band is %s. Set the rail at the load, plus to minus.", text(capture.Volt, drop), text(capture.Volt, half)),
	}
}
