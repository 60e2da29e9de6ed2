package diagnose

import (
	"math"
	"slices"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// Outcome is what a measurement that is no resistance comes to.
type Outcome string

// The zones of a rail by its magnitude, and the answers of the other tests.
const (
	Off        Outcome = "off"        // below 3 % of the nominal
	Fed        Outcome = "fed"        // to half of it: held up from elsewhere, or the mean of a restart train
	Low        Outcome = "low"        // to the lower bound
	Right      Outcome = "right"      // within the bounds
	TooHigh    Outcome = "high"       // above them
	Restarting Outcome = "restarting" // seen on a fast meter, the peak-hold or by ear

	OK      Outcome = "ok"
	NotOK   Outcome = "not ok"
	There   Outcome = "there"
	Missing Outcome = "missing"
)

var zones = []Outcome{Off, Fed, Low, Right, TooHigh, Restarting}

// Edges of the zones as parts of the nominal (the project's choice).
const (
	offBelow = 0.03
	fedBelow = 0.5
)

// outcomes lists what a measurement can come to; nil for resistances.
func outcomes(w Where) []Outcome {
	switch w {
	case Volts:
		return zones
	case SourceAlone, LoadAlone:
		return []Outcome{OK, NotOK}
	case Enabled, Behind, Across:
		return []Outcome{There, Missing}
	}
	return nil
}

// Cells of resistance: ten to a decade from 10 mohm to 10 Mohm; what lies
// outside falls into the first or the last one.
const (
	cellsPerDecade = 10
	cellDecades    = 9
	cells          = cellsPerDecade * cellDecades
	cellFirst      = 0.01 // ohm
)

// cellEdge is the upper edge of cell c in ohm.
func cellEdge(c int) float64 {
	edge := cellFirst
	for range (c + 1) / cellsPerDecade { // powers of ten to the last bit: readings are often such
		edge *= 10
	}
	return float64(edge * elementary.Power(10, float64((c+1)%cellsPerDecade)/cellsPerDecade))
}

// spread fills the cells by a distribution function of the resistance.
func spread(below func(ohm float64) float64) []float64 {
	out := make([]float64, cells)
	last := 0.0
	for c := range out {
		next := 1.0
		if c < cells-1 {
			next = below(cellEdge(c))
		}
		out[c] = next - last
		last = next
	}
	return out
}

// Standard uncertainty of a reading that does not state one: a clip's contact
// and the leads for ohms, a handheld's accuracy for volts (common practice).
const (
	usualOhm     = 0.05
	usualOhmPart = 0.01
	usualPart    = 0.005
)

// weigh returns, for each outcome of e, the probability that the true value
// lies there given the reading.
func (b Board) weigh(e Entry) []float64 {
	switch {
	case e.At.Where == Ohms || e.At.Where == Alone:
		return weighOhms(e)
	case e.Word != "":
		return one(outcomes(e.At.Where), e.Word)
	}
	r, _ := b.Rail(e.At.Subject)
	return weighVolts(e, r)
}

func one(all []Outcome, is Outcome) []float64 {
	out := make([]float64, len(all))
	if i := slices.Index(all, is); i >= 0 {
		out[i] = 1
	}
	return out
}

func weighOhms(e Entry) []float64 {
	u := e.U
	if u == 0 {
		u = usualOhm + float64(usualOhmPart*e.Value)
	}
	if math.IsInf(e.Value, 1) {
		return spread(func(float64) float64 { return 0 })
	}
	return spread(func(ohm float64) float64 { return normal((ohm - e.Value) / u) })
}

func weighVolts(e Entry, r capture.Rail) []float64 {
	sized := r.Sized(e.Value)
	u, nominal := e.U, math.Abs(r.Nominal)
	if u == 0 {
		u = float64(usualPart * nominal / 2)
	}
	below := func(edge float64) float64 { return normal((edge - sized.Value) / u) }
	edges := []float64{offBelow * nominal, fedBelow * nominal, sized.Bounds.Low, sized.Bounds.High}
	out := make([]float64, len(zones))
	last := 0.0
	for i, edge := range edges {
		next := max(last, below(edge))
		out[i], last = next-last, next
	}
	out[len(edges)] = 1 - last
	return out
}
