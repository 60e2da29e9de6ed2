package capture

import (
	"encoding/json"
	"fmt"
	"math"
)

// Bounds are the declared limits of a rail in its unit, signed, Low below
// High. A side that is not declared is -Inf or +Inf and is written as null.
type Bounds struct {
	Low, High float64
}

// NoBounds is open on both sides.
func NoBounds() Bounds { return Bounds{Low: math.Inf(-1), High: math.Inf(1)} }

// HasLow reports whether the lower side is declared.
func (b Bounds) HasLow() bool { return !math.IsInf(b.Low, -1) }

// HasHigh reports whether the upper side is declared.
func (b Bounds) HasHigh() bool { return !math.IsInf(b.High, 1) }

// Contains reports whether v lies inside or on an edge. A NaN never does.
func (b Bounds) Contains(v float64) bool { return v >= b.Low && v <= b.High }

// Width returns High minus Low: +Inf when a side is open.
func (b Bounds) Width() float64 { return b.High - b.Low }

// Edge returns the declared edge nearest to v, and whether there is one.
func (b Bounds) Edge(v float64) (float64, bool) {
	switch {
	case b.HasLow() && b.HasHigh():
		if v-b.Low < b.High-v {
			return b.Low, true
		}
		return b.High, true
	case b.HasLow():
		return b.Low, true
	case b.HasHigh():
		return b.High, true
	}
	return 0, false
}

type boundsJSON struct {
	Low  *float64 `json:"low"`
	High *float64 `json:"high"`
}

// MarshalJSON writes an open side as null, for JSON has no infinity.
func (b Bounds) MarshalJSON() ([]byte, error) {
	var j boundsJSON
	if b.HasLow() {
		j.Low = &b.Low
	}
	if b.HasHigh() {
		j.High = &b.High
	}
	return json.Marshal(j)
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (b *Bounds) UnmarshalJSON(data []byte) error {
	var j boundsJSON
	if err := json.Unmarshal(data, &j); err != nil {
		return err
	}
	*b = NoBounds()
	if j.Low != nil {
		b.Low = *j.Low
	}
	if j.High != nil {
		b.High = *j.High
	}
	return nil
}

// Side tells which side of the isolation a rail is on.
type Side string

// The sides. An empty side is [Secondary].
const (
	Secondary Side = "secondary"
	Mains     Side = "mains"
)

// DefaultShortBelow is the resistance to the return, in ohm, below which an
// ordinary rail is called short (common practice). It belongs to the rail: a
// processor's core rail may read 1 ohm and be healthy.
const DefaultShortBelow = 5.0

// Rail is a named supply net of a board. Values are in volt and keep their
// sign; words like low and high go by magnitude (see [Rail.Sized]).
type Rail struct {
	Name       string   `json:"name"`                  // "+5 V logic", unique in the job
	Nominal    float64  `json:"nominal"`               // volt, signed
	Target     float64  `json:"target"`                // volt, what it is trimmed to; the nominal unless declared
	Bounds     Bounds   `json:"bounds"`                // volt, computed once when declared
	Point      string   `json:"point,omitempty"`       // test point, "TP5"
	Return     string   `json:"return,omitempty"`      // net it is measured against, "0 V"
	Side       Side     `json:"side,omitempty"`        // mains or secondary
	ShortBelow float64  `json:"short_below"`           // ohm to the return; below it is a short
	ResetBelow float64  `json:"reset_below,omitempty"` // volt, magnitude below which the set resets; 0: not declared
	MinLoad    float64  `json:"min_load,omitempty"`    // ampere the source needs to regulate; 0: not declared
	FedFrom    string   `json:"fed_from,omitempty"`    // rail or source that feeds it: another rail, "psu/1", "mains"
	Feeds      []string `json:"feeds,omitempty"`       // loads and rails behind it
}

// Sized is a rail seen by magnitude, so that "low" means too little voltage on
// negative rails as well.
type Sized struct {
	Value, Target float64
	Bounds        Bounds
}

// Sized turns v and the rail's limits to magnitudes. For a positive rail it
// changes nothing.
func (r Rail) Sized(v float64) Sized {
	if r.Nominal >= 0 {
		return Sized{Value: v, Target: r.Target, Bounds: r.Bounds}
	}
	return Sized{Value: -v, Target: -r.Target, Bounds: Bounds{Low: -r.Bounds.High, High: -r.Bounds.Low}}
}

// HalfBand returns half the width of the band in volt, or a tenth of the
// nominal's magnitude when a side is open: a length to draw by, not a limit.
func (r Rail) HalfBand() float64 {
	if w := r.Bounds.Width(); !math.IsInf(w, 1) {
		return w / 2
	}
	return math.Abs(r.Nominal) / 10
}

// DistanceResolution is the resolution, in volt, that a distance on the rail is
// worth: the reading's, or about a hundredth of half the band (a power of ten)
// where that is coarser. A meter that ranged down to 0.1 µV beside a rail of
// ±0.1 V tells its distance from 5 V in millivolt all the same.
func (r Rail) DistanceResolution(reading float64) float64 {
	half := r.HalfBand()
	if !(half > 0) || math.IsInf(half, 1) {
		return reading
	}
	power, _ := powerOf(half / 100)
	if half/100 > math.Sqrt(10)*math.Pow10(power) { // nearer to the next, by its logarithm
		power++
	}
	return max(reading, math.Pow10(power))
}

// Validate reports the first thing that is wrong with the rail.
func (r Rail) Validate() error {
	finite := func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
	switch {
	case r.Name == "":
		return fmt.Errorf("a rail needs a name")
	case !finite(r.Nominal) || r.Nominal == 0:
		return fmt.Errorf("rail %s: nominal must be a voltage other than zero", r.Name)
	case !finite(r.Target):
		return fmt.Errorf("rail %s: target must be a voltage", r.Name)
	case math.IsNaN(r.Bounds.Low) || math.IsNaN(r.Bounds.High) || r.Bounds.Low >= r.Bounds.High:
		return fmt.Errorf("rail %s: the low bound must lie below the high bound", r.Name)
	case !r.Bounds.Contains(r.Target):
		return fmt.Errorf("rail %s: target %g V lies outside its own bounds %g to %g V", r.Name, r.Target, r.Bounds.Low, r.Bounds.High)
	case !finite(r.ShortBelow) || r.ShortBelow < 0:
		return fmt.Errorf("rail %s: short_below must be a resistance, zero or more", r.Name)
	case !finite(r.ResetBelow) || r.ResetBelow < 0:
		return fmt.Errorf("rail %s: reset_below is a magnitude in volt, zero or more", r.Name)
	case r.Side != "" && r.Side != Mains && r.Side != Secondary:
		return fmt.Errorf("rail %s: side must be mains or secondary, not %q", r.Name, r.Side)
	}
	return nil
}
