package diagnose

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

// Parts counts sources, converters, loads and capacitors.
func (b Board) Parts() int {
	return len(b.Sources) + len(b.Converters) + len(b.Loads) + len(b.Capacitors)
}
