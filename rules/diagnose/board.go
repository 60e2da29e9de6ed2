package diagnose

import (
	"slices"

	"steadyrail/capture"
)

// Board is what the sheet says.
type Board struct {
	Name       string
	Rails      []capture.Rail
	Sources    []Source
	Converters []Converter
	Loads      []Load
	Capacitors []Capacitor
	Priors     []Prior
	Points     []TracePoint
	Healthy    []Healthy
}

// Source feeds a rail from outside the board.
type Source struct{ Name, Rail string }

// Converter makes one rail of another. Enable and Inductor are empty when it
// has none that can be reached.
type Converter struct {
	Name, In, Out    string
	Enable, Inductor string
	Ohms             float64 // of its output to the return, healthy and cold
	InOhms           float64 // of its input to the return, healthy and cold
	Shape            Shape   // empty: as the rails' voltages have it, see [Board.ShapeOf]
}

// Load hangs on a rail, soldered or behind a connector.
type Load struct {
	Name, Rail, Connector string
	Ohms                  float64 // to the return, healthy and cold
}

// Capacitor stands from a rail to its return.
type Capacitor struct{ Name, Rail string }

// Prior says that a fault is more or less usual than the others, and who says so.
type Prior struct {
	Part   string
	Kind   Kind
	Times  float64
	Source string
}

// Kind is a way to fail.
type Kind string

// The ways to fail that predictions know.
const (
	GivesNothing  Kind = "gives nothing"
	Sags          Kind = "sags"
	Shorted       Kind = "shorted"
	Weak          Kind = "weak"
	High          Kind = "high"
	NotEnabled    Kind = "not enabled"
	InductorOpen  Kind = "inductor open"
	StopsHot      Kind = "stops hot"
	Overloads     Kind = "overloads"
	Leaky         Kind = "leaky"
	ConnectorOpen Kind = "open"
)

// Fault is one part that failed in one way.
type Fault struct {
	Part string `json:"part"`
	Kind Kind   `json:"kind"`
}

// Faults lists every single fault of the sheet.
func (b Board) Faults() []Fault {
	var out []Fault
	add := func(part string, kinds ...Kind) {
		for _, k := range kinds {
			out = append(out, Fault{part, k})
		}
	}
	for _, s := range b.Sources {
		add(s.Name, GivesNothing, Sags)
	}
	for _, c := range b.Converters {
		add(c.Name, GivesNothing, Shorted, Weak, High, StopsHot)
		if c.Enable != "" {
			add(c.Name, NotEnabled)
		}
		if c.Inductor != "" {
			add(c.Name, InductorOpen)
		}
	}
	for _, l := range b.Loads {
		add(l.Name, Shorted, Overloads)
	}
	for _, c := range b.Capacitors {
		add(c.Name, Shorted, Leaky)
	}
	for _, c := range b.Connectors() {
		add(c, ConnectorOpen)
	}
	return out
}

// Connectors lists the connectors in the order of their loads, each once.
func (b Board) Connectors() []string {
	var out []string
	for _, l := range b.Loads {
		if l.Connector != "" && !slices.Contains(out, l.Connector) {
			out = append(out, l.Connector)
		}
	}
	return out
}

// Rail returns the rail of a name.
func (b Board) Rail(name string) (capture.Rail, bool) {
	i := slices.IndexFunc(b.Rails, func(r capture.Rail) bool { return r.Name == name })
	if i < 0 {
		return capture.Rail{}, false
	}
	return b.Rails[i], true
}

func (b Board) converter(name string) (Converter, bool) {
	i := slices.IndexFunc(b.Converters, func(c Converter) bool { return c.Name == name })
	if i < 0 {
		return Converter{}, false
	}
	return b.Converters[i], true
}

func (b Board) load(name string) (Load, bool) {
	i := slices.IndexFunc(b.Loads, func(l Load) bool { return l.Name == name })
	if i < 0 {
		return Load{}, false
	}
	return b.Loads[i], true
}

// feeder returns the converter that makes the rail, if one does.
func (b Board) feeder(rail string) (Converter, bool) {
	i := slices.IndexFunc(b.Converters, func(c Converter) bool { return c.Out == rail })
	if i < 0 {
		return Converter{}, false
	}
	return b.Converters[i], true
}

// railsOf lists the rails a part touches: what it is on, feeds or loads.
func (b Board) railsOf(part string) []string {
	var out []string
	add := func(name, rail string) {
		if name == part && !slices.Contains(out, rail) {
			out = append(out, rail)
		}
	}
	for _, s := range b.Sources {
		add(s.Name, s.Rail)
	}
	for _, c := range b.Converters {
		add(c.Name, c.Out)
		add(c.Name, c.In)
	}
	for _, l := range b.Loads {
		add(l.Name, l.Rail)
		add(l.Connector, l.Rail)
	}
	for _, c := range b.Capacitors {
		add(c.Name, c.Rail)
	}
	return out
}

// chain lists the rail and all that it is fed from, nearest first. A sheet with
// a loop is refused where it is loaded; here a loop merely ends.
func (b Board) chain(rail string) []string {
	out := []string{rail}
	for {
		c, made := b.feeder(rail)
		if !made || slices.Contains(out, c.In) {
			return out
		}
		rail = c.In
		out = append(out, rail)
	}
}

// removable says whether a part comes off, and in how many minutes.
func (b Board) removable(part string) (minutes float64, ok bool) {
	if part == "" {
		return 0, false
	}
	if slices.Contains(b.Connectors(), part) {
		return minutesUnplug, true
	}
	if _, is := b.converter(part); is {
		return minutesLift, true
	}
	ok = slices.ContainsFunc(b.Capacitors, func(c Capacitor) bool { return c.Name == part })
	return minutesLift, ok
}

// removables lists what comes off, connectors first.
func (b Board) removables() []string {
	out := b.Connectors()
	for _, c := range b.Capacitors {
		out = append(out, c.Name)
	}
	for _, c := range b.Converters {
		out = append(out, c.Name)
	}
	return out
}
