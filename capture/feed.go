package capture

import (
	"slices"
	"strings"
	"unicode"
)

// SameOutput reports whether two subjects of acts on outputs name one output, or one
// of them all of the instrument that the other is of.
func SameOutput(one, other string) bool {
	return (Act{Subject: one}).Concerns(other) || (Act{Subject: other}).Concerns(one)
}

// Source returns what feeds a rail by the sheet, at the head of the chain of rails
// before it; empty where the sheet does not say. A rail of the mains side that
// nothing is said of is fed by the mains.
func (s Sheet) Source(rail Rail) string {
	for range s.Rails {
		before, is := s.Rail(rail.FedFrom)
		if !is {
			break
		}
		rail = before
	}
	if rail.FedFrom == "" && rail.Side == Mains {
		return string(Mains)
	}
	return rail.FedFrom
}

// FromMains reports whether a source is the mains, by that word in what it is called:
// "mains", "230 V mains", "mains transformer". No output of a bench supply feeds what
// the mains feeds.
func FromMains(source string) bool {
	words := strings.FieldsFunc(source, func(r rune) bool { return !unicode.IsLetter(r) })
	return slices.ContainsFunc(words, func(w string) bool { return strings.EqualFold(w, string(Mains)) })
}

// Feeds reports whether an output may feed a rail, and whether the sheet says so or
// says that it does not: by the instrument at the head of what feeds it, or the
// mains. Of a source that is neither, nobody knows what is connected to it.
func (s Sheet) Feeds(output string, rail Rail, instrument func(name string) bool) (feeds, said bool) {
	source := s.Source(rail)
	switch {
	case source != "" && instrument((Act{Subject: source}).Instrument()):
		return SameOutput(source, output), true
	case FromMains(source):
		return false, true
	}
	return true, false
}
