package diagnose

import (
	"fmt"
	"strings"

	"steadyrail/capture"
)

// say words an explanation.
func (b Board) say(x Explanation) string {
	if x.Other {
		return "something that is not on the sheet"
	}
	if len(x.Faults) == 0 {
		return "no fault on the sheet shows: the board is healthy, or the fault was not there while measuring"
	}
	var out []string
	for _, f := range x.Faults {
		out = append(out, b.sayFault(f))
	}
	return strings.Join(out, ", and ")
}

func (b Board) sayFault(f Fault) string {
	c, isConverter := b.converter(f.Part)
	switch {
	case f.Kind == GivesNothing && isConverter:
		return f.Part + " gives nothing although it is fed and enabled"
	case f.Kind == Sags:
		return f.Part + " sags under load"
	case f.Kind == Shorted && isConverter:
		return "the output of " + f.Part + " is shorted inside it"
	case f.Kind == Weak:
		return f.Part + " cannot carry its load"
	case f.Kind == High:
		return f.Part + " regulates too high"
	case f.Kind == StopsHot:
		return f.Part + " stops when it is hot"
	case f.Kind == NotEnabled:
		return f.Part + " is not enabled: " + c.Enable + " is missing"
	case f.Kind == InductorOpen:
		return c.Inductor + " at the output of " + f.Part + " is open"
	case f.Kind == Overloads:
		return f.Part + " draws too much"
	case f.Kind == ConnectorOpen:
		return f.Part + " does not connect"
	case f.Kind == GivesNothing:
		return f.Part + " gives nothing"
	}
	return f.Part + " is " + string(f.Kind)
}

// sayStep words a step as one technician would to another.
func (b Board) sayStep(s Step, off stand) string {
	read := b.sayRead(s, off)
	switch s.Do {
	case Remove:
		return b.sayRemove(s.Part) + ", then " + read + b.sayWhatFor(s)
	case PutBack:
		return "Put " + s.Part + " back, then " + read + "."
	}
	return capture.Capital(read) + "."
}

func (b Board) sayRemove(part string) string {
	if minutes, _ := b.removable(part); minutes == minutesUnplug {
		return "Power off and discharged, unplug " + part
	}
	if _, is := b.converter(part); is {
		return "Power off and discharged, lift the output of " + part
	}
	return "Power off and discharged, lift one leg of " + part
}

func (b Board) sayWhatFor(s Step) string {
	if s.At.Where != Ohms {
		return ": if it comes right, what was taken off is to blame."
	}
	return fmt.Sprintf(": if it rises, %s carried the fault; if not, it is cleared.", b.sayCarried(s))
}

func (b Board) sayCarried(s Step) string {
	var loads []string
	for _, l := range b.Loads {
		if l.Connector == s.Part && l.Rail == s.At.Subject {
			loads = append(loads, l.Name)
		}
	}
	if len(loads) == 0 {
		return s.Part
	}
	return strings.Join(loads, " or ")
}

func (b Board) sayRead(s Step, off stand) string {
	subject := s.At.Subject
	switch s.At.Where {
	case Ohms:
		return "read the ohms of " + b.place(subject) + ", unpowered, below 50 mV, leads nulled, until it is steady"
	case Volts:
		if s.At.Hot {
			return "power it through the limited supply, warm the board to its working temperature, and read the volts of " + b.place(subject)
		}
		return "power it through the limited supply and read the volts of " + b.place(subject) + "; if low, look with peak-hold or AC whether it restarts"
	case Alone:
		return "read the ohms of " + subject + " by itself, off the board"
	case SourceAlone:
		return b.sayUnplugged(subject, off) + "try the source of " + b.place(subject) + " alone on a dummy load, through the limited supply"
	case LoadAlone:
		l, _ := b.load(subject)
		return "unplug " + l.Connector + " and try " + subject + " alone from the bench supply, limited in current, at " + l.Rail
	case Enabled:
		c, _ := b.converter(subject)
		return "power it through the limited supply and look whether " + c.Enable + " reaches " + subject
	case Across:
		c, _ := b.converter(subject)
		return "read the ohms across " + c.Inductor + ", unpowered: it should be near nothing"
	}
	return "power it through the limited supply and look for the volts behind " + subject + ", on the load's side"
}

func (b Board) sayUnplugged(rail string, off stand) string {
	var on []string
	for _, c := range b.connectorsOn(rail) {
		if !off.without(c) {
			on = append(on, c)
		}
	}
	if len(on) == 0 {
		return ""
	}
	return "unplug " + strings.Join(on, " and ") + " and "
}

// place names a rail with its test point and return.
func (b Board) place(rail string) string {
	r, _ := b.Rail(rail)
	out := rail
	if r.Point != "" {
		out += " at " + r.Point
	}
	if r.Return != "" {
		out += " to " + r.Return
	}
	return out
}

// sensitivity says what a prior that is three times wrong would change. Tripling
// one prior, or a third of the first's, changes the order where the first two
// lie within a factor of three; both together within nine.
func sensitivity(r []Ranked) string {
	ratio := r[0].P / r[1].P
	switch {
	case ratio < 3:
		return fmt.Sprintf("A prior three times larger would put %q first.", r[1].Say)
	case ratio < 9:
		return fmt.Sprintf("The first place holds when one prior is wrong by a factor of three, not when two are: then it is %q.", r[1].Say)
	}
	return "The first place holds when the priors of the first two are each wrong by a factor of three."
}
