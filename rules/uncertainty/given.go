package uncertainty

// Given is what is known beforehand of a figure that was computed from others.
type Given struct {
	Standard float64 // standard uncertainty of one figure, base unit; 0: not known
	Assumed  bool    // a meter that changes with the room went into it, and nobody measured the room
}

// Independent is the note of a figure whose inputs may have errors in common
// beyond the gain of one instrument, such as one reference for two.
const Independent = "meters taken as independent"

// The notes are shared, so that stating a figure anew takes no memory. Their
// capacity is their length: who appends gets a list of its own.
var (
	givenNotes        = []string{Independent}
	givenNotesAssumed = []string{Independent, Assumed}
)

// given states a computed figure. Its scatter comes on top, as it does of a
// reading: what is given is of its inputs' limits.
func (s Statement) given(in Input) Statement {
	s.Stated, s.Given, s.Lead, s.Notes = true, in.Given.Standard, in.Lead, givenNotes
	if in.Given.Assumed {
		s.Notes = givenNotesAssumed
	}
	s.sum()
	return s
}
