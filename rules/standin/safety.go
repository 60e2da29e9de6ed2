package standin

import (
	"fmt"
	"math"
	"slices"

	"steadyrail/capture"
)

// separation asks whether the dead part kept mains from the secondary side, and
// whether the candidate would. Not knowing is never enough here.
func separation(n Need, c Candidate) Check {
	switch {
	case n.Separates == Unsaid:
		return Check{Word: NotStated, Say: "Nobody said whether the dead part separates mains from the secondary side: find out before anything is fitted."}
	case n.Separates == No:
		return Check{Word: NotNeeded, Say: "The dead part separates nothing."}
	case !c.isolated():
		return Check{Word: Unfit, Say: "The dead part separates mains from the secondary side and the candidate states no separation: it would put mains on what people touch."}
	case !n.Working.Stated():
		return unsaid([]string{"working voltage across the separation"})
	}
	check := Check{
		Word: over(c.Isolation.Value, n.Working.Value, n.Working.U), Value: c.Isolation.Value, Limit: n.Working.Value, Unit: capture.Volt.ASCII(),
		Basis:  "working voltage, class and creepage stated, each at least the dead part's; whether that is enough says the standard for the set, and someone licensed",
		Source: sources(named{"separation", c.Isolation}, named{"working voltage", n.Working}, named{"creepage there", n.Creepage}, named{"creepage of the candidate", c.Creepage}),
	}
	check.Say = fmt.Sprintf("Separation for %s stated, %s is across it.", text(capture.Volt, c.Isolation.Value), text(capture.Volt, n.Working.Value))
	class(&check, n, c)
	return check
}

// classes of a separation, each as good as those before (IEC 62368-1 names them
// so; from memory).
var classes = []string{"functional", "basic", "reinforced"}

// class adds what the class and the creepage come to.
func class(check *Check, n Need, c Candidate) {
	missing := lack(named{"creepage of the dead part", n.Creepage}, named{"creepage of the candidate", c.Creepage})
	if n.Class == "" {
		missing = append(missing, "class of the dead part's separation")
	}
	if c.Class == "" {
		missing = append(missing, "class of the candidate's")
	}
	if len(missing) > 0 {
		check.Word = worse(check.Word, NotStated)
		check.Say += " " + unsaid(missing).Say
		return
	}
	if slices.Index(classes, c.Class) < slices.Index(classes, n.Class) {
		check.Word = Unfit
		check.Say += fmt.Sprintf(" The dead part's is %s and the candidate's only %s.", n.Class, c.Class)
	}
	check.Word = worse(check.Word, over(c.Creepage.Value, n.Creepage.Value, root(c.Creepage.U, n.Creepage.U)))
	check.Say += fmt.Sprintf(" Creepage %.3g mm, the dead part has %.3g mm.", 1000*c.Creepage.Value, 1000*n.Creepage.Value)
}

// polarity asks whether the topology can make the sign of the rail from what
// feeds it.
func polarity(n Need, c Candidate) Check {
	in, known := inputSign(n)
	if !known {
		return unsaid([]string{"lowest input"})
	}
	turned := c.Topology == Inverting
	negative := n.Rail.Nominal < 0
	switch {
	case c.Topology == Module:
		return Check{Word: Fits, Say: "Its output floats: either terminal may be the return."}
	case (in < 0) == negative && !turned, (in < 0) != negative && turned:
		return Check{Word: Fits, Say: "It makes the sign that the rail has."}
	}
	return Check{Word: Unfit, Say: fmt.Sprintf("%s is %s and a %s converter on this input makes the other sign.", n.Rail.Name, signWord(negative), c.Topology)}
}

func inputSign(n Need) (float64, bool) {
	if !n.InLow.Stated() || n.InLow.Value == 0 {
		return 0, false
	}
	return math.Copysign(1, n.InLow.Value), true
}

func signWord(negative bool) string {
	if negative {
		return "negative"
	}
	return "positive"
}

// failure asks what the load gets when the candidate's switch or pass element
// shorts: the whole input, unless a clamp holds it and a fuse ends it.
func failure(n Need, c Candidate) Check {
	if missing := lack(named{"highest input", n.InHigh}, named{"what the load survives", n.Survives}); len(missing) > 0 {
		return unsaid(missing)
	}
	direct := c.Topology == Linear || c.Topology == StepDown
	in := math.Abs(n.InHigh.Value)
	survives := math.Abs(n.Survives.Value)
	check := Check{Value: in, Limit: survives, Unit: capture.Volt.ASCII(), Source: sources(named{"highest input", n.InHigh}, named{"load survives", n.Survives}, named{"clamp", c.Clamp}, named{"fuse", c.Fuse}), Basis: "a shorted pass element or switch puts the input on the output (common practice)"}
	switch {
	case direct && under(in, survives, root(n.InHigh.U, n.Survives.U)) == Fits:
		check.Word, check.Say = Fits, fmt.Sprintf("Shorted through, it gives %s, which the load survives.", text(capture.Volt, in))
		return check
	case c.Clamp.Stated() && c.Fuse.Stated():
		check.Value = c.Clamp.Value
		check.Word = under(c.Clamp.Value, survives, root(c.Clamp.U, n.Survives.U))
		check.Say = fmt.Sprintf("Whatever fails, a clamp holds the rail at %s until a fuse of %s goes; the load survives %s.", text(capture.Volt, c.Clamp.Value), text(capture.Ampere, c.Fuse.Value), text(capture.Volt, survives))
		return check
	case direct:
		check.Word = Unfit
		check.Say = fmt.Sprintf("Shorted through, it puts %s on a load that survives %s: fit a clamp and a fuse that it can blow, and state both.", text(capture.Volt, in), text(capture.Volt, survives))
		return check
	}
	check.Word = CannotTell
	check.Say = "When its regulation fails the output may rise to what nobody stated: fit a clamp and a fuse that it can blow, and state both."
	return check
}
