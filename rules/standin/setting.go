package standin

import (
	"fmt"
	"math"

	"steadyrail/capture"
)

// Wanted is the ohms in the other resistor that give volts: solved from
// Vout = Vref·(1 + Other/Held) + Ibias·Other.
func (d Divider) Wanted(volts float64) float64 {
	return (volts - d.Reference.Value) / (d.Reference.Value/d.Held.Value + d.Bias.Value)
}

// setting asks whether fixed parts set the output inside the rail's band,
// whatever their tolerance.
func setting(n Need, c Candidate) Check {
	d := c.Divider
	switch {
	case d == nil && fixed(n, c):
		return Check{Word: NotNeeded, Say: "Its output is fixed."}
	case d == nil:
		return unsaid([]string{"what sets its output"})
	case d.Trim.Stated():
		return Check{Word: NotNeeded, Say: "A trimmer sets it."}
	}
	used := []named{{"reference", d.Reference}, {"resistor with the reference across it", d.Held}, {"other resistor", d.Other}}
	if missing := lack(used...); len(missing) > 0 {
		return unsaid(missing)
	}
	low, high := d.Span()
	lowest, highest := bandOf(n.Rail)
	check := Check{Word: Fits, Value: d.Set(d.Held.Value, d.Other.Value), Limit: math.Abs(n.Rail.Target), Unit: capture.Volt.ASCII(), Source: sources(used...), Basis: setBasis + " at the ends of the tolerances"}
	switch {
	case low > highest || high < lowest:
		check.Word = Unfit
	case low < lowest || high > highest:
		check.Word = CannotTell
	}
	check.Say = fmt.Sprintf("Its resistors set %s, %s to %s with their tolerance; the band is %s to %s.", text(capture.Volt, check.Value), finer(low), finer(high), finer(lowest), finer(highest))
	if check.Word != Fits {
		check.Say += d.proposal(n)
	}
	return check
}

const setBasis = "Vout = Vref·(1 + R/Rref) + Ibias·R"

// finer prints volts with a digit more than other figures: a band is per cents.
func finer(v float64) string { return capture.Volt.Text(v, step(v)/10) }

// fixed reports whether the output can be set nowhere but in the rail's band.
func fixed(n Need, c Candidate) bool {
	low, high := bandOf(n.Rail)
	return c.OutLow.Stated() && c.OutHigh.Stated() && c.OutLow.Value >= low && c.OutHigh.Value <= high
}

// bandOf is a rail's band by magnitude; a side that is open is a tenth away.
func bandOf(r capture.Rail) (low, high float64) {
	b, target := r.Sized(r.Target).Bounds, math.Abs(r.Target)
	low, high = b.Low, b.High
	if !b.HasLow() {
		low = 0.9 * target
	}
	if !b.HasHigh() {
		high = 1.1 * target
	}
	return low, high
}

// proposal says what would set the rail: preferred values after IEC 60063, with
// the other resistor as it is. It is empty when what is known does not reach.
func (d *Divider) proposal(n Need) string {
	if !d.Reference.Stated() || !d.Other.Stated() || d.Reference.Value <= 0 || d.Other.Value <= 0 {
		return ""
	}
	target := math.Abs(n.Rail.Target)
	low, high := bandOf(n.Rail)
	if low <= d.Reference.Value {
		return ""
	}
	say := " " + d.fixedPair(target)
	p := Propose(d.Reference, d.Other, low, high, d.Tolerance, E96)
	p.Bias = d.Bias
	from, to := p.Span()
	if from > low || to > math.Abs(n.Survives.Value) || p.Open() > math.Abs(n.Survives.Value) {
		return say
	}
	return say + fmt.Sprintf(" Or %s (E96) and a trimmer of %s in series there: %s to %s, and %s with an open wiper.",
		text(capture.Ohm, p.Held.Value), text(capture.Ohm, p.Trim.Value), finer(from), finer(to), finer(p.Open()))
}

// fixedPair names the nearest fixed values for a target in volt: of the other
// resistor, or of the one with the reference across it when a trimmer or nothing
// stands there.
func (d *Divider) fixedPair(target float64) string {
	say, ohm, set := "With the one that has the reference across it as it is, the other is", 0.0, func(ohm float64) float64 { return d.Set(d.Held.Value, ohm) }
	if d.Held.Stated() && !d.Trim.Stated() {
		ohm = d.Wanted(target)
	} else {
		say, set = "With the other resistor as it is, the one with the reference across it is", func(ohm float64) float64 { return d.Set(ohm, d.Other.Value) }
		ohm = d.Other.Value / ((target-float64(d.Bias.Value*d.Other.Value))/d.Reference.Value - 1)
	}
	if !(ohm > 0) || math.IsInf(ohm, 1) {
		return ""
	}
	for i, s := range []Series{E24, E96} {
		v := Nearest(ohm, s, Closest)
		if i > 0 {
			say += " or"
		}
		say += fmt.Sprintf(" %s (E%d: %s)", text(capture.Ohm, v), int(s), finer(set(v)))
	}
	return say + "."
}
