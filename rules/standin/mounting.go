package standin

import (
	"fmt"

	"steadyrail/capture"
)

// enable asks whether the level that switches the dead part on switches the
// candidate on.
func enable(n Need, c Candidate) Check {
	switch {
	case n.Enable == "" || c.Enable == "":
		var missing []string
		if n.Enable == "" {
			missing = append(missing, "level of the board's enable")
		}
		if c.Enable == "" {
			missing = append(missing, "level of the candidate's enable")
		}
		return unsaid(missing)
	case n.Enable == "none" && c.Enable == "none":
		return Check{Word: NotNeeded, Say: "Neither has an enable."}
	case n.Enable == c.Enable:
		return thresholds(n, c)
	case n.Enable == "none":
		return Check{Word: Fits, Say: fmt.Sprintf("The board has no enable: tie the candidate's to its %s level.", c.Enable)}
	case c.Enable == "none":
		return Check{Word: Unfit, Say: "The board switches this rail and the candidate cannot be switched: it would run when the set is off."}
	}
	return Check{Word: Unfit, Say: fmt.Sprintf("The board says on with a %s level and the candidate with a %s one: it needs an inverter.", n.Enable, c.Enable)}
}

// thresholds asks whether the board's levels lie beyond what switches the
// candidate on and off for sure.
func thresholds(n Need, c Candidate) Check {
	on, off, isOn, isOff := named{"level of the board for on", n.EnableOn}, named{"level for off", n.EnableOff}, named{"threshold for on", c.EnableOn}, named{"threshold for off", c.EnableOff}
	if missing := lack(on, off, isOn, isOff); len(missing) > 0 {
		return unsaid(missing)
	}
	high, low := over(n.EnableOn.Value, c.EnableOn.Value, n.EnableOn.U), under(n.EnableOff.Value, c.EnableOff.Value, n.EnableOff.U)
	if n.Enable == "low" {
		high, low = under(n.EnableOn.Value, c.EnableOn.Value, n.EnableOn.U), over(n.EnableOff.Value, c.EnableOff.Value, n.EnableOff.U)
	}
	return Check{
		Word: worse(high, low), Value: n.EnableOn.Value, Limit: c.EnableOn.Value, Unit: capture.Volt.ASCII(), Source: sources(on, off, isOn, isOff),
		Say: fmt.Sprintf("Both are on with a %s level. The board gives %s for on and %s for off; the candidate asks for %s and %s.", n.Enable,
			text(capture.Volt, n.EnableOn.Value), text(capture.Volt, n.EnableOff.Value), text(capture.Volt, c.EnableOn.Value), text(capture.Volt, c.EnableOff.Value)),
	}
}

// room asks whether it goes where the dead part stood, turned if need be.
func room(n Need, c Candidate) Check {
	used := []named{
		{"length of the room", n.Length}, {"width of the room", n.Width}, {"height of the room", n.Height},
		{"length", c.Length}, {"width", c.Width}, {"height", c.Height},
	}
	if missing := lack(used...); len(missing) > 0 {
		return unsaid(missing)
	}
	along := c.Length.Value <= n.Length.Value && c.Width.Value <= n.Width.Value
	across := c.Length.Value <= n.Width.Value && c.Width.Value <= n.Length.Value
	check := Check{Word: Fits, Source: sources(used...), Say: "It goes where the dead part stood. Fix it so that it cannot work loose, and keep what burns away from it."}
	switch {
	case c.Height.Value > n.Height.Value:
		check.Word, check.Say = Unfit, fmt.Sprintf("It is %.3g mm high and has %.3g mm.", 1000*c.Height.Value, 1000*n.Height.Value)
	case !along && !across:
		check.Word = Unfit
		check.Say = fmt.Sprintf("It is %.3g by %.3g mm and has %.3g by %.3g mm.", 1000*c.Length.Value, 1000*c.Width.Value, 1000*n.Length.Value, 1000*n.Width.Value)
	}
	return check
}
