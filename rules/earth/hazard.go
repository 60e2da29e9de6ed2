package earth

import (
	"fmt"
	"math"

	"steadyrail/capture"
)

// Limit is a voltage above which a conductor counts as hazardous live in dry
// locations. It is used for cautions only: wet locations and single faults have
// other limits, and nothing here permits to touch what lies below.
type Limit struct {
	Volts  float64
	Kind   string // "DC", "AC rms" or "AC peak"
	Source string
}

// Limits are the thresholds of the cautions.
var Limits = []Limit{
	{60, "DC", "IEC 60950-1, 2.1.1.7"},
	{42.4, "AC peak", "IEC 60950-1, 2.1.1.7"},
	{30, "AC rms", "IEC 61010-1, 6.3.1 (from memory)"},
}

// Cautions stand beside the work on a rail, at most two lines: where it counts as
// hazardous live, and where its peak is more than the figure on the instrument.
func Cautions(in capture.InstrumentInfo, r capture.Rail) []string {
	volts := math.Abs(r.Nominal)
	mains := r.Side == capture.Mains
	if !mains && volts <= Limits[0].Volts {
		return nil
	}
	out := []string{fmt.Sprintf("%s counts as hazardous live: above %g V DC (%s), %g V AC rms (%s). Local codes and licensed practice govern this work.",
		r.Name, Limits[0].Volts, Limits[0].Source, Limits[2].Volts, Limits[2].Source)}
	if mains {
		return append(out, "The volts of a category are rms or DC: the peak of the mains is 1.41 times as much, and its reservoir capacitor holds it.")
	}
	if in.Isolation.Category == "" {
		out = append(out, fmt.Sprintf("How many volts to earth %s is rated for is not stated: see beside its sockets.", in.Name))
	}
	return out
}
