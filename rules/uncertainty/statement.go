package uncertainty

import (
	"fmt"
	"math"
	"slices"

	"steadyrail/capture"
)

// Input is a reading, or a mean of readings, with what is known about how it
// was made. Everything is in the base unit of the quantity.
type Input struct {
	Value      float64
	Resolution float64            // one count of the last digit; 0: as the accuracy says
	Range      float64            // 0: not told, inferred from resolution and value
	Accuracy   []capture.Accuracy // of the channel; none: nothing can be stated
	Ambient    *float64           // °C at the meter; nil: 23 °C is assumed and said
	Lead       float64            // standard uncertainty of what the leads add
	SD         float64            // scatter of single readings; 0: not known or none
	Effective  float64            // readings that count as independent; below 1 counts as 1
	Readings   int                // that SD was taken from; 0: as many as Effective
	Unit       capture.Unit       // for the notes
	Given      Given              // what is known of a computed figure, for which no maker speaks
}

// Of returns the input for one reading.
func Of(r capture.Reading, accuracy []capture.Accuracy) Input {
	return Input{Value: r.Value, Resolution: r.Resolution, Range: r.Range, Accuracy: accuracy, Unit: r.Quantity.Unit()}
}

// Statement is an uncertainty with its parts, in the base unit.
type Statement struct {
	Value      float64
	Resolution float64
	Limit      float64          // a: the maker's limit of error, |Gain| + Offset
	Gain       float64          // its part that goes with the reading, with the reading's sign
	Offset     float64          // its part that does not: of range, and counts
	Count      float64          // q: one count of the last digit
	Drift      float64          // t: limit of what the ambient adds outside 23 ± 5 °C
	Lead       float64          // standard uncertainty of what the leads add
	Given      float64          // standard uncertainty of a computed figure, from its inputs
	TypeB      float64          // standard uncertainty that no averaging removes
	TypeA      float64          // standard uncertainty of the scatter
	SD         float64          // scatter of single readings
	Effective  float64          // readings that count as independent
	Degrees    float64          // of freedom of TypeA; 0: there is none
	Ambient    *float64         // °C; nil: assumed 23
	Standard   float64          // u
	Coverage   float64          // k: 2, more where few readings scatter
	Expanded   float64          // U = k u; 0 when not Stated
	Stated     bool             // an accuracy statement was found
	Accuracy   capture.Accuracy // the one that was used
	Notes      []string         // "assumed 23 °C in the room"
}

// noAccuracy is the note of a channel whose maker states nothing.
const noAccuracy = "no accuracy stated: indicated only"

// overRange is how far beyond full scale meters still measure.
const overRange = 1.2

// State combines what is known. Without an accuracy statement for the range,
// Stated is false, U is 0 and a note says why: the reading is indicated only.
func State(in Input) Statement {
	s := Statement{Value: in.Value, Resolution: in.Resolution, Ambient: in.Ambient}
	if math.IsNaN(in.Value) || math.IsInf(in.Value, 0) {
		s.Notes = []string{"no value"}
		return s
	}
	s.scatter(&in)
	if in.Given.Standard > 0 {
		return s.given(in)
	}
	fitting, note := candidates(in)
	if len(fitting) == 0 {
		s.Standard = s.TypeA
		s.Notes = []string{note}
		return s
	}
	s.Stated = true
	best := s
	for i, acc := range fitting {
		if one := s.with(&in, acc); i == 0 || one.TypeB > best.TypeB {
			best = one
		}
	}
	s = best
	s.Resolution = max(in.Resolution, s.Accuracy.Resolution)
	if note != "" {
		s.Notes = append(s.Notes, note+": took "+in.Unit.Text(s.Accuracy.Range, 0))
	}
	if in.Ambient == nil && s.Accuracy.PerKelvin != 0 {
		s.Notes = append(s.Notes, Assumed)
	}
	return s
}

// Assumed is the note of a statement whose meter changes with the temperature
// of the room, which nobody measured.
const Assumed = "assumed 23 °C in the room"

// with fills in what an accuracy statement says of the reading.
func (s Statement) with(in *Input, acc capture.Accuracy) Statement {
	s.Accuracy = acc
	s.limits(in)
	return s
}

// limits fills in the parts by the accuracy statement that was found.
func (s *Statement) limits(in *Input) {
	acc := &s.Accuracy
	size, count := math.Abs(in.Value), acc.Resolution
	if count <= 0 {
		count = in.Resolution
	}
	s.Lead = in.Lead
	s.Gain = float64(acc.OfReading * in.Value)
	s.Offset = float64(acc.OfRange*acc.Range) + float64(acc.Digits*count)
	s.Limit = math.Abs(s.Gain) + s.Offset
	s.Count = max(in.Resolution, acc.Resolution)
	s.Drift = float64(float64(acc.PerKelvin*outside(in.Ambient)) * size)
	s.sum()
}

// sum combines the parts. Not math.Hypot: its last digit depends on the
// processor.
func (s *Statement) sum() {
	s.TypeB = math.Sqrt(float64(s.Limit*s.Limit)/3 + float64(s.Count*s.Count)/12 + float64(s.Drift*s.Drift)/3 + float64(s.Lead*s.Lead) + float64(s.Given*s.Given))
	s.Standard = math.Sqrt(float64(s.TypeB*s.TypeB) + float64(s.TypeA*s.TypeA))
	s.Coverage = CoverageFactor(s.effective())
	if s.Expanded = 0; s.Stated {
		s.Expanded = float64(s.Coverage * s.Standard)
	}
}

// effective are the degrees of freedom of u (Welch-Satterthwaite, GUM G.4.1):
// the type B parts are limits, and as well known as one likes.
func (s *Statement) effective() float64 {
	if !(s.TypeA > 0) || s.Degrees <= 0 {
		return math.Inf(1)
	}
	r := s.Standard / s.TypeA
	r2 := float64(r * r)
	return float64(s.Degrees * float64(r2*r2))
}

// scatter takes the part that averaging shrinks.
func (s *Statement) scatter(in *Input) {
	if !(in.SD > 0) {
		return
	}
	s.SD, s.Effective = in.SD, max(1, in.Effective)
	s.TypeA = in.SD / math.Sqrt(s.Effective)
	s.Degrees = max(1, s.Effective-1)
	if in.Readings > 0 {
		s.Degrees = float64(max(1, in.Readings-1))
	}
}

// Parts lists the components of the statement as a budget has them, those that
// are nothing left out.
func (s Statement) Parts() []Component {
	all := []Component{
		{Name: "accuracy", Value: s.Limit, Distribution: Rectangular, Source: s.Accuracy.Uncertainty},
		{Name: "resolution", Value: s.Count / 2, Distribution: Rectangular, Source: "one count of the last digit"},
		{Name: "temperature", Value: s.Drift, Distribution: Rectangular, Source: s.Accuracy.Uncertainty},
		{Name: "leads", Value: s.Lead, Source: "the null of the leads"},
		{Name: "inputs", Value: s.Given, Source: "the inputs of the formula; different meters taken as independent"},
		{Name: "scatter", Value: s.SD, Readings: s.Effective, Degrees: s.Degrees, Source: "the readings"},
	}
	out := all[:0]
	for _, c := range all {
		if c.Sensitivity = 1; c.Value > 0 {
			out = append(out, c)
		}
	}
	return out
}

// candidates returns the accuracy statements that may hold, and a note when it
// had to be guessed or there is none.
func candidates(in Input) (fitting []capture.Accuracy, note string) {
	stated := slices.DeleteFunc(slices.Clone(in.Accuracy), func(a capture.Accuracy) bool { return !states(a) })
	if len(stated) == 0 {
		return nil, noAccuracy
	}
	for _, a := range stated {
		if in.Range > 0 && same(a.Range, in.Range) {
			return []capture.Accuracy{a}, ""
		}
	}
	holds := func(a capture.Accuracy) bool { return math.Abs(in.Value) <= overRange*a.Range }
	if in.Range > 0 { // a range that the maker's list does not name
		for _, a := range stated {
			if holds(a) && a.Range > in.Range {
				fitting = append(fitting, a)
			}
		}
		return fitting, orNone(fitting, fmt.Sprintf("no accuracy stated for the range of %s", in.Unit.Text(in.Range, 0)))
	}
	var byDigits []capture.Accuracy
	for _, a := range stated {
		if !holds(a) {
			continue
		}
		fitting = append(fitting, a)
		if in.Resolution > 0 && same(a.Resolution, in.Resolution) {
			byDigits = append(byDigits, a)
		}
	}
	if len(byDigits) > 0 {
		fitting = byDigits
	}
	switch len(fitting) {
	case 0:
		return nil, "above every range with a stated accuracy: indicated only"
	case 1:
		return fitting, ""
	}
	return fitting, "range not told, " + listed(fitting, in.Unit) + " fit"
}

// states reports whether an entry says how far the meter may be off. One that
// only lists a range and its resolution does not.
func states(a capture.Accuracy) bool { return a.OfReading > 0 || a.OfRange > 0 || a.Digits > 0 }

func orNone(fitting []capture.Accuracy, note string) string {
	if len(fitting) == 0 {
		return note + ": indicated only"
	}
	return note
}

func listed(fitting []capture.Accuracy, u capture.Unit) string {
	var out []string
	for _, a := range fitting {
		out = append(out, u.Text(a.Range, 0))
	}
	return capture.Listed(out)
}

func same(a, b float64) bool { return math.Abs(a-b) <= 1e-6*math.Abs(b) }

// outside is how many kelvin the ambient lies outside 23 ± 5 °C.
func outside(ambient *float64) float64 {
	if ambient == nil || math.IsNaN(*ambient) {
		return 0
	}
	return max(0, math.Abs(*ambient-23)-5)
}
