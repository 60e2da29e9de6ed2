package capture

import "slices"

// ActPolarity says which way round a resistance is measured from now on. Subject
// is the channel, Text [Forward] or [Reverse].
const ActPolarity Verb = "polarity"

// The ways round.
const (
	Forward = "forward" // the lead that is positive in ohms on the rail
	Reverse = "reverse" // it is on the return
)

// Polarities folds which way round each channel measures, in the order of the
// record. What is said of an instrument holds for its channels, what is said of
// none for all; the newest that concerns a channel holds. The zero value is ready:
// everything measures forward. It is not safe for concurrent use.
type Polarities struct{ list []polarity } // newest last, one for each subject

type polarity struct {
	subject string
	reverse bool
}

func (p polarity) concerns(id ChannelID) bool {
	return p.subject == "" || p.subject == string(id) || p.subject == id.Instrument()
}

// Take folds an act; all but [ActPolarity] say nothing.
func (f *Polarities) Take(a Act) {
	if a.Verb != ActPolarity {
		return
	}
	f.list = slices.DeleteFunc(f.list, func(p polarity) bool { return p.subject == a.Subject })
	f.list = append(f.list, polarity{a.Subject, a.Text == Reverse})
}

// Reversed reports whether a channel measures with its leads exchanged.
func (f *Polarities) Reversed(id ChannelID) bool {
	for _, p := range slices.Backward(f.list) {
		if p.concerns(id) {
			return p.reverse
		}
	}
	return false
}
