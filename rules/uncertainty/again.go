package uncertainty

import (
	"math"

	"steadyrail/capture"
)

// Again is [State] for the next reading of the same channel, given what was
// stated of the one before: equal to it in every figure, without looking the
// maker's list through and without memory where the list leaves no choice.
func Again(before Statement, in Input) Statement {
	list := in.Accuracy
	if math.IsNaN(in.Value) || math.IsInf(in.Value, 0) || in.Given.Standard > 0 || before.Given > 0 || len(before.Notes) > 1 || before.Resolution < in.Resolution {
		return State(in)
	}
	s := Statement{Value: in.Value, Resolution: in.Resolution, Ambient: in.Ambient, Notes: before.Notes}
	s.scatter(in)
	switch {
	case len(list) == 0 && len(before.Notes) == 1 && before.Notes[0] == noAccuracy:
		s.Standard = s.TypeA
		return s
	case !before.Stated || len(list) != 1 || before.Accuracy != list[0] || !settled(before, in, list[0]):
		return State(in)
	}
	s.Stated = true
	s = s.with(in, list[0])
	s.Resolution = max(in.Resolution, list[0].Resolution)
	return s
}

// settled reports whether the one statement of a maker surely holds, with the
// notes that stand already.
func settled(before Statement, in Input, a capture.Accuracy) bool {
	holds := math.Abs(in.Value) <= overRange*a.Range
	sure := in.Range > 0 && same(a.Range, in.Range) || in.Range == 0 && holds
	assumed := in.Ambient == nil && a.PerKelvin != 0
	return sure && assumed == (len(before.Notes) == 1)
}
