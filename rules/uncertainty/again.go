package uncertainty

import "math"

// Again makes s what [State] states of the next reading of the same channel:
// equal to it in every figure, in place, without looking the maker's list
// through and without memory where the list leaves no choice. It reads in only.
func (s *Statement) Again(in *Input) {
	switch {
	case !s.follows(in):
	case len(in.Accuracy) == 0 && len(s.Notes) == 1 && s.Notes[0] == noAccuracy:
		*s = Statement{Value: in.Value, Resolution: in.Resolution, Ambient: in.Ambient, Notes: s.Notes}
		s.scatter(in)
		s.Standard = s.TypeA
		return
	case s.settled(in):
		s.anew(in)
		return
	}
	*s = State(*in)
}

// follows reports whether there is a statement to go on from, of a reading that
// a maker speaks for.
func (s *Statement) follows(in *Input) bool {
	return finite(in.Value) && !(in.Given.Standard > 0) && !(s.Given > 0) && len(s.Notes) <= 1 && s.Resolution >= in.Resolution
}

func finite(v float64) bool { return v-v == 0 }

// settled reports whether the one statement of a maker surely holds, with the
// notes that stand already.
func (s *Statement) settled(in *Input) bool {
	if !s.Stated || len(in.Accuracy) != 1 || s.Accuracy != in.Accuracy[0] {
		return false
	}
	a := &in.Accuracy[0]
	holds := math.Abs(in.Value) <= overRange*a.Range
	sure := in.Range > 0 && same(a.Range, in.Range) || in.Range == 0 && holds
	assumed := in.Ambient == nil && a.PerKelvin != 0
	return sure && assumed == (len(s.Notes) == 1)
}

// anew fills in what changes from reading to reading under one statement of a
// maker.
func (s *Statement) anew(in *Input) {
	s.Value, s.Ambient = in.Value, in.Ambient
	s.Resolution = max(in.Resolution, s.Accuracy.Resolution)
	s.TypeA, s.SD, s.Effective, s.Degrees = 0, 0, 0, 0
	s.scatter(in)
	s.limits(in)
}
