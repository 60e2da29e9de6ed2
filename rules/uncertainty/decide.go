package uncertainty

import (
	"math"

	"steadyrail/capture"
)

// Decide holds a value against bounds with guard band w = U: the four outcomes
// of ILAC-G8:09/2019, 4.2.3. The distance is to the nearest declared edge,
// positive inside. A U of 0 is simple acceptance. A value that is no number, a
// U that is none, or bounds that are open on both sides give NoData.
func Decide(v, expanded float64, b capture.Bounds) (o capture.Outcome, distance float64) {
	edge, ok := b.Edge(v)
	if !ok || math.IsNaN(v) || math.IsInf(v, 0) || math.IsNaN(expanded) || math.IsInf(expanded, 0) {
		return capture.NoData, 0
	}
	distance = inward(v, b)
	// Decimal fractions have no exact binary form: 4.95 is no nearer to 4.9 than
	// 0.05, whatever the last bit says.
	slack := 1e-12 * (math.Abs(v) + math.Abs(edge))
	switch {
	case distance >= expanded-slack && distance >= -slack:
		return capture.Pass, distance
	case distance >= -slack:
		return capture.ConditionalPass, distance
	case -distance <= expanded+slack:
		return capture.ConditionalFail, distance
	}
	return capture.Fail, distance
}

// inward is how far inside the bounds v lies: the smaller way to an edge.
func inward(v float64, b capture.Bounds) float64 { return math.Min(v-b.Low, b.High-v) }

// Decision is an outcome for a rail with the sentence that people read.
type Decision struct {
	Outcome   capture.Outcome
	Say       string  // "Inside", "Low by 0.12 V", "Cannot tell: 0.01 V from the edge, meter ± 0.05 V"
	Distance  float64 // volt to the nearest edge, positive inside
	Indicated bool    // no accuracy was stated: shown, never signed
}

// JudgeRail decides about a rail's voltage. Low and high go by magnitude, so
// that -11 V on a -12 V rail is low; "by" is the way to the target, as a
// trimmer is turned by. Without a stated accuracy the bare bounds decide and
// Indicated is set.
func JudgeRail(r capture.Rail, s Statement) Decision {
	d := Decision{Indicated: !s.Stated}
	d.Outcome, d.Distance = Decide(s.Value, s.Expanded, r.Bounds)
	resolution := s.Resolution
	show := func(v float64) string { return capture.Volt.Text(math.Abs(v), resolution) }
	switch d.Outcome {
	case capture.NoData:
		d.Say = "No reading"
		if !r.Bounds.HasLow() && !r.Bounds.HasHigh() {
			d.Say = "No bounds declared"
		}
		return d
	case capture.Pass:
		d.Say = "Inside"
	case capture.ConditionalPass, capture.ConditionalFail:
		d.Say = "Cannot tell: " + show(d.Distance) + " from the edge, meter ± " + capture.Volt.Text(s.Expanded, shown(s.Expanded, resolution))
	case capture.Fail:
		by := r.Sized(s.Value)
		word := "Low by "
		if by.Value > by.Bounds.High {
			word = "High by "
		}
		d.Say = word + show(by.Value-by.Target)
	}
	return d
}

// shown is the resolution that a U is printed with: the reading's, or one
// significant digit where that would print nought.
func shown(expanded, resolution float64) float64 {
	if resolution <= 0 || expanded <= 0 {
		return resolution
	}
	return math.Min(resolution, math.Pow10(int(math.Floor(math.Log10(expanded)))))
}

// Conformance is the probability that the true value lies inside the bounds,
// for a flat prior and a normal uncertainty u (JCGM 106:2012, 7.4). Where the
// maker's limit dominates, the tail is thinner or thicker: say "normal assumed".
func Conformance(v, u float64, b capture.Bounds) float64 {
	if !(u > 0) {
		if b.Contains(v) {
			return 1
		}
		return 0
	}
	below := func(limit float64) float64 { return math.Erfc((v-limit)/(u*math.Sqrt2)) / 2 }
	return max(0, below(b.High)-below(b.Low))
}
