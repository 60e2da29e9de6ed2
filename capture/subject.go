package capture

import "strings"

// Instrument returns the instrument that an act on one (output, input, limits)
// concerns: what stands before the slash of "psu/1".
func (a Act) Instrument() string {
	name, _, _ := strings.Cut(a.Subject, "/")
	return name
}

// Output returns which of an instrument's several outputs an act concerns, what
// stands behind the slash of "psu/1"; empty: the only one, or all.
func (a Act) Output() string {
	_, output, _ := strings.Cut(a.Subject, "/")
	return output
}
