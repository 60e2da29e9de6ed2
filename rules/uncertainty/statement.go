package uncertainty

import (
	"fmt"
	"math"
	"slices"
	"strings"

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
	Unit       capture.Unit       // for the notes
}

// Of returns the input for one reading.
func Of(r capture.Reading, accuracy []capture.Accuracy) Input {
	return Input{Value: r.Value, Resolution: r.Resolution, Range: r.Range, Accuracy: accuracy, Unit: r.Quantity.Unit()}
}

// Statement is an uncertainty with its parts, in the base unit.
type Statement struct {
	Value      float64
	Resolution float64
	Limit      float64          // a: the maker's limit of error
	TypeB      float64          // standard uncertainty that no averaging removes
	TypeA      float64          // standard uncertainty of the scatter
	Standard   float64          // u
	Expanded   float64          // U = 2u; 0 when not Stated
	Stated     bool             // an accuracy statement was found
	Accuracy   capture.Accuracy // the one that was used
	Notes      []string         // "assumed 23 °C"
}

// noAccuracy is the note of a channel whose maker states nothing.
const noAccuracy = "no accuracy stated: indicated only"

// overRange is how far beyond full scale meters still measure.
const overRange = 1.2

// State combines what is known. Without an accuracy statement for the range,
// Stated is false, U is 0 and a note says why: the reading is indicated only.
func State(in Input) Statement {
	s := Statement{Value: in.Value, Resolution: in.Resolution}
	if math.IsNaN(in.Value) || math.IsInf(in.Value, 0) {
		s.Notes = []string{"no value"}
		return s
	}
	s.TypeA = scatter(in)
	fitting, note := candidates(in)
	if len(fitting) == 0 {
		s.Standard = s.TypeA
		s.Notes = []string{note}
		return s
	}
	for i, acc := range fitting {
		limit, b := typeB(in, acc)
		if i == 0 || b > s.TypeB {
			s.Limit, s.TypeB, s.Accuracy = limit, b, acc
		}
	}
	s.Stated = true
	s.Resolution = max(in.Resolution, s.Accuracy.Resolution)
	// Not math.Hypot: its last digit depends on the processor.
	s.Standard = math.Sqrt(float64(s.TypeB*s.TypeB) + float64(s.TypeA*s.TypeA))
	s.Expanded = 2 * s.Standard
	if note != "" {
		s.Notes = append(s.Notes, note+": took "+in.Unit.Text(s.Accuracy.Range, 0))
	}
	if in.Ambient == nil && s.Accuracy.PerKelvin != 0 {
		s.Notes = append(s.Notes, "assumed 23 °C")
	}
	return s
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
	return strings.Join(out[:len(out)-1], ", ") + " and " + out[len(out)-1]
}

func same(a, b float64) bool { return math.Abs(a-b) <= 1e-6*math.Abs(b) }

// typeB returns the limit of error and the standard uncertainty that stays
// however many readings are averaged.
func typeB(in Input, acc capture.Accuracy) (limit, u float64) {
	size := math.Abs(in.Value)
	count := acc.Resolution
	if count <= 0 {
		count = in.Resolution
	}
	limit = float64(acc.OfReading*size) + float64(acc.OfRange*acc.Range) + float64(acc.Digits*count)
	q := max(in.Resolution, acc.Resolution)
	t := float64(acc.PerKelvin*outside(in.Ambient)) * size
	return limit, math.Sqrt(float64(limit*limit)/3 + float64(q*q)/12 + float64(t*t)/3 + float64(in.Lead*in.Lead))
}

// outside is how many kelvin the ambient lies outside 23 ± 5 °C.
func outside(ambient *float64) float64 {
	if ambient == nil || math.IsNaN(*ambient) {
		return 0
	}
	return max(0, math.Abs(*ambient-23)-5)
}

func scatter(in Input) float64 {
	if !(in.SD > 0) {
		return 0
	}
	return in.SD / math.Sqrt(max(1, in.Effective))
}
