package standin

import (
	"fmt"
	"math"

	"steadyrail/capture"
)

// blows is how many times its rated current must be there for a fuse to go at
// once (common practice; its data sheet has the curve).
const blows = 4

// carriesOn is how much of its rated current a fuse carries for years (common
// practice).
const carriesOn = 0.8

// fuse asks whether a fuse in the candidate's input carries its work, and
// whether the source can blow it when the clamp shorts the rail.
func fuse(n Need, c Candidate) Check {
	if !c.Fuse.Stated() {
		return unsaid([]string{"fuse in its input"})
	}
	draws, used, missing := drawn(n, c)
	if missing = append(missing, lack(named{"most that the source gives", n.SourceMax})...); len(missing) > 0 {
		return unsaid(missing)
	}
	may := float64(carriesOn * c.Fuse.Value)
	check := Check{
		Word:  worse(under(draws, may, float64(draws*n.Peak.U)/n.Peak.Value), over(n.SourceMax.Value, float64(blows*c.Fuse.Value), n.SourceMax.U)),
		Value: draws, Limit: may, Unit: capture.Ampere.ASCII(), Basis: "four fifths of a fuse's current for years; four times it to blow at once (common practice)",
		Source: sources(append(used, named{"fuse", c.Fuse}, named{"source gives", n.SourceMax})...),
		Say:    fmt.Sprintf("A fuse of %s carries %s at the peak; the source can put %s through it when a clamp shorts the rail.", text(capture.Ampere, c.Fuse.Value), text(capture.Ampere, draws), text(capture.Ampere, n.SourceMax.Value)),
	}
	if check.Word == Unfit && draws > may {
		check.Say += " It would age: take the next size."
	} else if check.Word == Unfit {
		check.Say += " That is too little to blow it at once."
	}
	return check
}

// drawn is the input's current at the peak of the load and the valley of the
// input, in ampere.
func drawn(n Need, c Candidate) (ampere float64, used []named, missing []string) {
	peak, low := named{"peak of the load", n.Peak}, named{"lowest input", n.InLow}
	if c.Topology == Linear {
		used = []named{peak, {"quiescent current", c.Quiescent}}
		return n.Peak.Value + c.Quiescent.Value, used, lack(used...)
	}
	used = []named{peak, low, {"efficiency", c.Efficiency}}
	watts := float64(math.Abs(n.Rail.Target)*n.Peak.Value) / c.Efficiency.Value
	return watts / math.Abs(n.InLow.Value), used, lack(used...)
}
