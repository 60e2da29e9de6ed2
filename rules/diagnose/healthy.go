package diagnose

import (
	"slices"
	"strings"
)

// Healthy is what a rail reads to its return on a board that is well, cold and
// without power, in both polarities. 0: not known.
type Healthy struct {
	Rail     string
	Ohms     float64
	Reversed float64 // with the probes exchanged
	Source   string  // whose reading it is: a job, a service sheet
}

// Touches reports whether a part or connector is on a rail, feeds or loads it.
func (b Board) Touches(part, rail string) bool {
	for _, r := range b.railsOf(part) {
		if r == rail {
			return true
		}
	}
	return false
}

// On is Touches for a part as an act names it: in any case of letters, and an
// inductor or what enables a converter as the converter. known reports whether the
// sheet has such a part on any rail.
func (b Board) On(part, rail string) (on, known bool) {
	part = strings.TrimSpace(part)
	names := slices.Concat(b.partNames(), b.Connectors())
	for _, s := range b.Sources {
		names = append(names, s.Name)
	}
	for _, c := range b.Converters {
		if part != "" && (strings.EqualFold(part, c.Inductor) || strings.EqualFold(part, c.Enable)) {
			part = c.Name
		}
	}
	for _, name := range names {
		if strings.EqualFold(name, part) {
			known, on = known || len(b.railsOf(name)) > 0, on || b.Touches(name, rail)
		}
	}
	return on, known
}

// Parts counts sources, converters, loads and capacitors.
func (b Board) Parts() int {
	return len(b.Sources) + len(b.Converters) + len(b.Loads) + len(b.Capacitors)
}
