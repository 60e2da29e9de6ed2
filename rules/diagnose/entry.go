package diagnose

import (
	"slices"
	"strings"
)

// Where is what a measurement looks at.
type Where string

// What can be looked at.
const (
	Ohms        Where = "ohms"         // of a rail to its return, unpowered
	Volts       Where = "volts"        // of a rail, powered
	Alone       Where = "alone"        // ohms of a part that was lifted
	SourceAlone Where = "source alone" // a rail's source into a dummy load
	LoadAlone   Where = "load alone"   // a load on the bench supply
	Enabled     Where = "enable"       // a converter's enable
	Across      Where = "across"       // ohms across a converter's inductor
	Behind      Where = "behind"       // volts behind a connector, on the load's side
	Says        Where = "set says"     // an indication of the set
)

// Point is one thing to measure.
type Point struct {
	Where   Where  `json:"where"`
	Subject string `json:"subject"` // rail, part or load
	Hot     bool   `json:"hot,omitempty"`
}

// Verb is what was done to a part.
type Verb string

// The verbs of an entry that is no measurement.
const (
	Remove  Verb = "remove"
	PutBack Verb = "put back"
)

// Entry is a line of the log: something done to a part, or a measurement.
type Entry struct {
	Verb  Verb
	Part  string
	At    Point
	Value float64 // ohm or volt; infinite for an open circuit
	U     float64 // standard uncertainty, same unit; 0: the usual one
	Word  Outcome // instead of a value: a zone, ok or not ok, there or missing
	Text  string  // as written
}

// stand is what is off the board at an entry.
type stand []string

func (s stand) without(part string) bool { return slices.Contains(s, part) }

func (s stand) after(e Entry) stand {
	switch e.Verb {
	case Remove:
		return s.remove(e.Part)
	case PutBack:
		return s.putBack(e.Part)
	}
	return s
}

func (s stand) remove(parts ...string) stand {
	out := slices.Clone(s)
	for _, p := range parts {
		if !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	slices.Sort(out)
	return out
}

func (s stand) putBack(part string) stand {
	return slices.DeleteFunc(slices.Clone(s), func(p string) bool { return p == part })
}

// within reports whether everything off here is off there too.
func (s stand) within(other stand) bool {
	return !slices.ContainsFunc(s, func(p string) bool { return !slices.Contains(other, p) })
}

// reach lists the rails whose parts a measurement can tell of.
func (b Board) reach(at Point) []string {
	switch at.Where {
	case Ohms:
		return []string{at.Subject}
	case Volts, SourceAlone, Says:
		return b.chain(at.Subject)
	case Behind:
		for _, l := range b.Loads {
			if l.Connector == at.Subject {
				return b.chain(l.Rail)
			}
		}
	}
	return nil
}

// touched reports whether a part matters to a measurement.
func (b Board) touched(at Point, part string) bool {
	switch at.Where {
	case Alone, LoadAlone, Enabled, Across:
		return part == at.Subject
	}
	reach := b.reach(at)
	return slices.ContainsFunc(b.railsOf(part), func(r string) bool { return slices.Contains(reach, r) })
}

// unloads reports whether taking a part off changes what a measurement under
// power shows, be it only that a source far up has less to carry.
func (b Board) unloads(at Point, part string) bool {
	reach := b.reach(at)
	return b.touched(at, part) || at.Where != Ohms && slices.ContainsFunc(b.railsOf(part), func(r string) bool { return b.meets(r, reach) })
}

// meets reports whether a rail hangs, however far down, on one of those given.
func (b Board) meets(rail string, others []string) bool {
	return slices.ContainsFunc(b.chain(rail), func(r string) bool { return slices.Contains(others, r) })
}

// key names a measurement with the parts off the board that matter to it by one
// of the measures above. By touched, the same key twice is the same measurement
// twice: it tells nothing new, and is not asked for.
func (b Board) key(at Point, off stand, matters func(Point, string) bool) string {
	var k strings.Builder
	k.WriteString(string(at.Where) + "\x00" + at.Subject + "\x00")
	if at.Hot {
		k.WriteString("hot")
	}
	for _, part := range off {
		if matters(at, part) {
			k.WriteString("\x00" + part)
		}
	}
	return k.String()
}
