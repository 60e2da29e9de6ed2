package standin

import (
	"fmt"
	"strings"
)

// Judgement is all checks and what they come to.
type Judgement struct {
	Candidate string  `json:"candidate"`
	Rail      string  `json:"rail"`
	Word      Word    `json:"word"`
	Say       string  `json:"say"`
	Checks    []Check `json:"checks"`
}

// question is a line of the list.
type question struct {
	name string
	ask  func(Need, Candidate) Check
}

// questions is the list, the one that can kill first.
var questions = []question{
	{"separation", separation},
	{"polarity", polarity},
	{"failure", failure},
	{"input range", inputRange},
	{"headroom", headroom},
	{"output range", outputRange},
	{"trimmer", trimmer},
	{"current", current},
	{"inductor", inductor},
	{"output ripple", ripple},
	{"input capacitor", inputCapacitor},
	{"heat", heat},
	{"least load", leastLoad},
	{"start into the board", startUp},
	{"inrush", inrush},
	{"source", source},
	{"return", returnDrop},
	{"enable", enable},
	{"room", room},
}

// unchecked is what no question answers, each with why.
var unchecked = []Check{
	{Name: "loop stability", Say: "needs a load step seen by an oscilloscope: recovery and ringing"},
	{Name: "shape of the start", Say: "needs the start seen by an oscilloscope: no overshoot, no step back, order against the other rails"},
	{Name: "transients", Say: "needs a load step seen by an oscilloscope"},
	{Name: "carried, radiated noise", Say: "needs a test receiver; keep the loop of the stand-in's input small"},
	{Name: "approval of the set", Say: "another part than its maker's may end it: ask who is responsible for the set"},
}

// Judge asks every question.
func Judge(n Need, c Candidate) Judgement {
	j := Judgement{Candidate: c.Name, Rail: n.Rail.Name, Word: Fits}
	var unfit, open []string
	for _, q := range questions {
		check := q.ask(n, c)
		check.Name = q.name
		j.Checks = append(j.Checks, check)
		switch check.Word {
		case Unfit:
			unfit = append(unfit, q.name)
		case CannotTell, NotStated:
			open = append(open, q.name)
		}
	}
	for _, u := range unchecked {
		u.Word = NotChecked
		j.Checks = append(j.Checks, u)
	}
	switch {
	case len(unfit) > 0:
		j.Word, j.Say = Unfit, fmt.Sprintf("%s may not stand in on %s: %s.", c.Name, n.Rail.Name, strings.Join(unfit, ", "))
	case len(open) > 0:
		j.Word, j.Say = CannotTell, fmt.Sprintf("Whether %s may stand in on %s cannot be told: %s.", c.Name, n.Rail.Name, strings.Join(open, ", "))
	default:
		j.Say = fmt.Sprintf("%s may stand in on %s as far as was checked.", c.Name, n.Rail.Name)
	}
	return j
}

// unsaid is the answer when figures are missing.
func unsaid(missing []string) Check {
	return Check{Word: NotStated, Say: "Not stated: " + strings.Join(missing, ", ") + ". It cannot be judged."}
}
