package standin

import (
	"fmt"
	"math"

	"steadyrail/capture"
)

// leastLoad asks whether the set always draws what the candidate needs.
func leastLoad(n Need, c Candidate) Check {
	draws, needs := named{"least load", n.Least}, named{"least load it needs", c.LeastLoad}
	if missing := lack(draws, needs); len(missing) > 0 {
		return unsaid(missing)
	}
	if c.LeastLoad.Value <= 0 {
		return Check{Word: NotNeeded, Say: "It regulates without a load.", Source: sources(needs)}
	}
	check := Check{
		Word: over(n.Least.Value, c.LeastLoad.Value, n.Least.U), Value: n.Least.Value, Limit: c.LeastLoad.Value, Unit: capture.Ampere.ASCII(), Source: sources(draws, needs),
		Say: fmt.Sprintf("The load draws at least %s; it needs %s to regulate.", text(capture.Ampere, n.Least.Value), text(capture.Ampere, c.LeastLoad.Value)),
	}
	if check.Word != Fits {
		out := math.Abs(n.Rail.Target)
		ohm := Nearest(out/c.LeastLoad.Value, E24, Below)
		check.Say += fmt.Sprintf(" A resistor of %s across the rail draws it and turns %s into heat.", text(capture.Ohm, ohm), text(capture.Watt, float64(out*out)/ohm))
	}
	return check
}

// startUp asks for the current that charges what is on the board already, on
// top of the load: I = C·V/t.
func startUp(n Need, c Candidate) Check {
	board, load, start, may := named{"capacitance on the rail", n.Board}, named{"load", n.Load}, named{"time of its start", c.Start}, named{"rated current", c.Current}
	if missing := lack(board, load, start, may); len(missing) > 0 {
		return unsaid(missing)
	}
	if c.CapMax.Stated() && n.Board.Value-n.Board.U > c.CapMax.Value {
		return Check{
			Word: Unfit, Value: n.Board.Value, Limit: c.CapMax.Value, Unit: capture.Farad.ASCII(), Source: sources(board, named{"most it starts into", c.CapMax}),
			Say: fmt.Sprintf("%s stand on the rail; it starts into %s at most.", text(capture.Farad, n.Board.Value), text(capture.Farad, c.CapMax.Value)),
		}
	}
	charge := Charging(n.Board.Value, math.Abs(n.Rail.Target), c.Start.Value)
	total := charge + n.Load.Value
	check := Check{
		Word: under(total, c.Current.Value, root(n.Load.U, charge*n.Board.U/n.Board.Value)), Value: total, Limit: c.Current.Value, Unit: capture.Ampere.ASCII(),
		Basis: "I = C·V/t beside the load", Source: sources(board, load, start, may),
		Say: fmt.Sprintf("Charging %s in %.3g ms takes %s on top of the load, %s in all; it gives %s.", text(capture.Farad, n.Board.Value), 1000*c.Start.Value, text(capture.Ampere, charge), text(capture.Ampere, total), text(capture.Ampere, c.Current.Value)),
	}
	if n.Rise.Stated() && c.Start.Value > n.Rise.Value {
		check.Word = worse(check.Word, Unfit)
		check.Say += fmt.Sprintf(" The rail must be up within %.3g ms.", 1000*n.Rise.Value)
	}
	return check
}

// Charging is the current in ampere that brings a capacitance in farad to a
// voltage within seconds.
func Charging(farad, volts, seconds float64) float64 { return float64(farad*volts) / seconds }

// inrush asks what the candidate's input capacitor draws through what feeds it:
// V/R at the first moment.
func inrush(n Need, c Candidate) Check {
	if c.InCap.Stated() && c.InCap.Value == 0 {
		return Check{Word: NotNeeded, Say: "It brings no input capacitor."}
	}
	in, way, most := named{"highest input", n.InHigh}, named{"resistance of the source", n.SourceOhm}, named{"most that the source gives", n.SourceMax}
	if missing := lack(in, way, most); len(missing) > 0 {
		return unsaid(missing)
	}
	if n.SourceOhm.Value <= 0 {
		return Check{Word: CannotTell, Say: "A source of no resistance has no inrush that could be worked out: measure it."}
	}
	first := math.Abs(n.InHigh.Value) / n.SourceOhm.Value
	check := Check{
		Word: under(first, n.SourceMax.Value, root(first*n.SourceOhm.U/n.SourceOhm.Value, n.InHigh.U/n.SourceOhm.Value)), Value: first, Limit: n.SourceMax.Value, Unit: capture.Ampere.ASCII(),
		Basis: "V/R at the first moment; a fuse sees V²·C/(2·R)", Source: sources(in, way, most, named{"input capacitor", c.InCap}, named{"what melts the fuse", n.SourceI2t}),
		Say: fmt.Sprintf("Its input capacitor draws %s at first; the source gives %s.", text(capture.Ampere, first), text(capture.Ampere, n.SourceMax.Value)),
	}
	melts(&check, n, c)
	return check
}

// RushI2t is what charging farad through ohm to volts puts through a fuse, in A²s:
// the integral of (V/R)²·exp(−2t/RC), V²·C/(2·R).
func RushI2t(volts, ohm, farad float64) float64 {
	return float64(float64(volts*volts)*farad) / float64(2*ohm)
}

// melts adds what the fuse before the converter makes of the inrush. Nine tenths
// of what melts it is too much for one that sees it at every start (common
// practice).
func melts(check *Check, n Need, c Candidate) {
	if !c.InCap.Stated() {
		check.Word = worse(check.Word, NotStated)
		check.Say += " Its input capacitor is not stated: what a fuse sees cannot be judged."
		return
	}
	i2t := RushI2t(n.InHigh.Value, n.SourceOhm.Value, c.InCap.Value)
	check.Say += fmt.Sprintf(" A fuse sees %.2g A²s.", i2t)
	if n.SourceI2t.Stated() {
		check.Word = worse(check.Word, under(i2t, 0.9*n.SourceI2t.Value, i2t*n.SourceOhm.U/n.SourceOhm.Value))
		check.Say += fmt.Sprintf(" The one before it melts at %.2g A²s.", n.SourceI2t.Value)
	}
}

// apart is what "well below" is taken for in the impedance criterion: a tenth
// (common practice).
const apart = 10

// source asks whether what feeds a converter is stiff enough for its negative
// input resistance, Vin²/Pin (Middlebrook 1976, from memory).
func source(n Need, c Candidate) Check {
	if c.Topology == Linear {
		return Check{Word: NotNeeded, Say: "A linear regulator's input is no negative resistance."}
	}
	low, way, peak, eta := named{"lowest input", n.InLow}, named{"resistance of the source", n.SourceOhm}, named{"peak of the load", n.Peak}, named{"efficiency", c.Efficiency}
	if missing := lack(low, way, peak, eta); len(missing) > 0 {
		return unsaid(missing)
	}
	in := math.Abs(n.InLow.Value)
	watts := float64(math.Abs(n.Rail.Target)*n.Peak.Value) / c.Efficiency.Value
	limit, small := LimiterOhm(in, watts), float64(in*in)/float64(apart*watts)
	check := Check{
		Word: under(n.SourceOhm.Value, limit, n.SourceOhm.U), Value: n.SourceOhm.Value, Limit: limit, Unit: capture.Ohm.ASCII(),
		Basis: "Rs below Vs²/(4·Pin), and well below Vin²/Pin (Middlebrook 1976, from memory)", Source: sources(low, way, peak, eta),
		Say: fmt.Sprintf("It is fed through %s; above %s it could not run at all.", text(capture.Ohm, n.SourceOhm.Value), text(capture.Ohm, limit)),
	}
	if check.Word == Fits && n.SourceOhm.Value > small {
		check.Word = CannotTell
		check.Say += fmt.Sprintf(" Above %s it may swing with what feeds it.", text(capture.Ohm, small))
	}
	return check
}
