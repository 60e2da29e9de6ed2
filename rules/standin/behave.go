package standin

import (
	"fmt"

	"steadyrail/capture"
)

// overload asks what the candidate does when a load and empty capacitors ask for
// more than it gives: whether it can get up again by itself.
func overload(n Need, c Candidate) Check {
	load, fold := named{"load", n.Load}, named{"current into a short", c.FoldTo}
	switch c.Overload {
	case "":
		return unsaid([]string{"what it does at overload"})
	case "constant":
		return Check{Word: Fits, Say: "At overload it holds its current and comes up when it can."}
	case "latch":
		return Check{Word: Fits, Say: "One overload switches it off until its input is taken away: the set then stays dark where the dead part came back."}
	case "hiccup":
		check := startUp(n, c)
		check.Say = "At overload it tries again and again, and must get up in one try. " + check.Say
		return check
	}
	if missing := lack(load, fold); len(missing) > 0 {
		return unsaid(missing)
	}
	return Check{
		Word: over(c.FoldTo.Value, n.Load.Value, n.Load.U), Value: c.FoldTo.Value, Limit: n.Load.Value, Unit: capture.Ampere.ASCII(), Source: sources(load, fold),
		Basis: "a load of constant current pulls a folded-back output down for good (common practice)",
		Say:   fmt.Sprintf("Folded back it gives %s; the load draws %s, and may draw that from the first volt on.", text(capture.Ampere, c.FoldTo.Value), text(capture.Ampere, n.Load.Value)),
	}
}

// stability asks whether what stands on the rail lies in a linear regulator's
// window: too little series resistance and too much make it swing.
func stability(n Need, c Candidate) Check {
	if c.Topology != Linear {
		return Check{Word: NotNeeded, Say: "Only a linear regulator states a window for its output capacitor."}
	}
	have, low, high := named{"series resistance of the rail's capacitors", n.BoardESR}, named{"least series resistance", c.ESRLow}, named{"most series resistance", c.ESRHigh}
	if missing := lack(have, low, high); len(missing) > 0 {
		return unsaid(missing)
	}
	return Check{
		Word:  worse(over(n.BoardESR.Value, c.ESRLow.Value, n.BoardESR.U), under(n.BoardESR.Value, c.ESRHigh.Value, n.BoardESR.U)),
		Value: n.BoardESR.Value, Limit: c.ESRHigh.Value, Unit: capture.Ohm.ASCII(), Source: sources(have, low, high), Basis: "inside the window of its data sheet",
		Say: fmt.Sprintf("The capacitors on the rail have %s in series; it is steady from %s to %s.", text(capture.Ohm, n.BoardESR.Value), text(capture.Ohm, c.ESRLow.Value), text(capture.Ohm, c.ESRHigh.Value)),
	}
}

// asked judges what a board asks for and a candidate has or has not.
func asked(n, c Answer, board, candidate, without, with string) Check {
	switch {
	case n == Unsaid:
		return unsaid([]string{board})
	case n == No:
		return Check{Word: NotNeeded, Say: "The board does not ask for it."}
	case c == Unsaid:
		return unsaid([]string{candidate})
	case c == No:
		return Check{Word: Unfit, Say: without}
	}
	return Check{Word: Fits, Say: with}
}

func prebias(n Need, c Candidate) Check {
	return asked(n.Prebiased, c.Prebias, "whether something holds the rail up at the start", "whether it starts into a rail that is held up",
		"Something holds the rail up when it starts, and it may pull that down or not start at all.", "It starts into a rail that is held up.")
}

func parallel(n Need, c Candidate) Check {
	return asked(n.Parallel, c.Parallel, "whether another source feeds the rail too", "whether its output may be fed from outside",
		"Another source feeds the rail too: it may sink that current or be driven backwards; a diode or a switch parts them.", "Its output may be fed from outside.")
}

func sense(n Need, c Candidate) Check {
	return asked(n.Sense, c.Sense, "whether the board has sense lines", "whether it has sense lines",
		"The board's sense lines go nowhere: set the rail at the load, and count the drop of both ways.", "It senses at the load; check that it cannot run up when a sense line opens.")
}

func powerGood(n Need, c Candidate) Check {
	return asked(n.Good, c.Good, "whether something listens to power-good", "whether it says power-good",
		"Something waits for power-good and would wait for ever: make the signal, or the set stays in reset.", "It says power-good; compare level, delay and pull-up.")
}
