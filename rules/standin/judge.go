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
	// Estimate is what a soak is held against, measured at Point; nil when a
	// figure for it is missing.
	Estimate *Estimate `json:"estimate,omitempty"`
	Point    string    `json:"point,omitempty"`
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
	{"fuse", fuse},
	{"input range", inputRange},
	{"headroom", headroom},
	{"output range", outputRange},
	{"setting", setting},
	{"trimmer", trimmer},
	{"current", current},
	{"overload", overload},
	{"inductor", inductor},
	{"diode", diode},
	{"output ripple", ripple},
	{"beat", beat},
	{"input capacitor", inputCapacitor},
	{"output capacitor", stability},
	{"heat", heat},
	{"least load", leastLoad},
	{"start into the board", startUp},
	{"inrush", inrush},
	{"source", source},
	{"return", returnDrop},
	{"enable", enable},
	{"held-up rail", prebias},
	{"second source", parallel},
	{"sense lines", sense},
	{"power-good", powerGood},
	{"room", room},
}

// unchecked is what no question answers, each with why.
var unchecked = []Check{
	{Name: "carried, radiated noise", Say: "needs a test receiver; keep the loop of the stand-in's input small"},
	{Name: "fixing and material", Say: "vibration, what burns, height above the sea and whine: look, shake and listen"},
	{Name: "supply of the part", Say: "whether it can be had in five years says its maker"},
	{Name: "approval of the set", Say: "another part than its maker's may end it: ask who is responsible for the set"},
}

// Judge asks every question of a candidate, with what an oscilloscope showed of it.
func Judge(n Need, c Candidate, seen Scope) Judgement {
	j := Judgement{Candidate: c.Name, Rail: n.Rail.Name, Word: Fits}
	n = seen.fed(n)
	if e, ok := c.Estimate(n); ok {
		j.Estimate, j.Point = &e, c.Point
	}
	for _, q := range questions {
		check := q.ask(n, c)
		check.Name = q.name
		j.Checks = append(j.Checks, check)
	}
	j.Checks = append(j.Checks, seen.shapes(n)...)
	for _, u := range unchecked {
		u.Word = NotChecked
		j.Checks = append(j.Checks, u)
	}
	j.conclude(n)
	return j
}

// conclude says what all comes to.
func (j *Judgement) conclude(n Need) {
	var unfit, open []string
	for _, c := range j.Checks {
		switch c.Word {
		case Unfit:
			unfit = append(unfit, c.Name)
		case CannotTell, NotStated:
			open = append(open, c.Name)
		}
	}
	switch {
	case len(unfit) > 0:
		j.Word, j.Say = Unfit, fmt.Sprintf("%s may not stand in on %s: %s.", j.Candidate, n.Rail.Name, strings.Join(unfit, ", "))
	case len(open) > 0:
		j.Word, j.Say = CannotTell, fmt.Sprintf("Whether %s may stand in on %s cannot be told: %s.", j.Candidate, n.Rail.Name, strings.Join(open, ", "))
	default:
		j.Say = fmt.Sprintf("%s may stand in on %s as far as was checked.", j.Candidate, n.Rail.Name)
	}
}

// unsaid is the answer when figures are missing.
func unsaid(missing []string) Check {
	return Check{Word: NotStated, Say: "Not stated: cannot judge. Missing: " + strings.Join(missing, ", ") + "."}
}
