package uncertainty

import (
	"fmt"
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
	slack := float64(1e-12 * (math.Abs(v) + math.Abs(edge)))
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
	Say       string  // "Inside", "Low by 0.12 V", "Off", "Cannot tell: 0.01 V from the edge, meter ± 0.05 V"
	Distance  float64 // volt to the nearest edge, positive inside
	Indicated bool    // no accuracy was stated: shown, never signed
}

// JudgeRail decides about a rail's voltage. Low and high go by magnitude, so
// that -11 V on a -12 V rail is low; "by" is the way to the target, as a
// trimmer is turned by. A rail that is hardly there is not low by some volts:
// its [Zone] is said. Without a stated accuracy the bare bounds decide and
// Indicated is set.
func JudgeRail(r capture.Rail, s Statement) Decision {
	d := Decision{Indicated: !s.Stated}
	d.Outcome, d.Distance = Decide(s.Value, s.Expanded, r.Bounds)
	digits := r.DistanceResolution(s.Resolution)
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
		// Beside an edge a distance is told as finely as the doubt about it.
		near := max(s.Resolution, min(digits, shown(s.Expanded, digits)))
		d.Say = "Cannot tell: " + capture.Volt.Text(math.Abs(d.Distance), near) + " from the edge, meter ± " + capture.Volt.Text(s.Expanded, shown(s.Expanded, s.Resolution))
	case capture.Fail:
		by := r.Sized(s.Value)
		if zone := Zone(by.Value / math.Abs(r.Nominal)); zone != "" {
			d.Say = capture.Capital(zone)
			return d
		}
		word := "Low by "
		if by.Value > by.Bounds.High {
			word = "High by "
		}
		d.Say = word + capture.Volt.Text(math.Abs(by.Value-by.Target), digits)
	}
	return d
}

// Zones of a rail's magnitude as parts of the nominal (common practice).
const (
	OffBelow = 0.10 // below it the rail is off
	FedBelow = 0.60 // below it the rail is fed from elsewhere, dragged or running down
)

// Zone names what a rail is that is not there in full, from its magnitude as a
// part of the nominal's; empty from [FedBelow] up.
func Zone(share float64) string {
	switch {
	case share < -OffBelow:
		return "reads the wrong way round"
	case share < OffBelow:
		return "off"
	case share < FedBelow:
		return fmt.Sprintf("fed from elsewhere, dragged or running down, %.0f %% of nominal", float64(100*share))
	}
	return ""
}

// shown is the resolution that a U is printed with: the reading's, or one
// significant digit where that would print nought; never more than two digits.
func shown(expanded, resolution float64) float64 {
	if resolution <= 0 || expanded <= 0 {
		return resolution
	}
	first := capture.Decade(expanded)
	return max(min(resolution, first), first/10)
}
