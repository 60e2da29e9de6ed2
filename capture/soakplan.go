package capture

import "time"

// SoakQuestion asks how long a soak must last: how often it failed before, and
// what the meter that will watch can see.
type SoakQuestion struct {
	Every        time.Duration // between failures before; 0: not said
	CyclesFailed int           // of Cycles power cycles; 0 of 0: not said
	Cycles       int
	Confidence   float64       // 0.95 for 95 %; 0: that
	Dip          time.Duration // length of the dip by which it fails; 0: it cannot be missed
	Depth        float64       // of the dip, share of the value; 0: half
	Meter        string        // instrument or channel that gives the two below
	Aperture     time.Duration // integration time of the meter; 0: not known
	Period       time.Duration // from reading to reading; 0: not known
	Warm         time.Duration // from cold, in which it never failed: does not count
}

// SoakPlan answers. Lengths are in seconds, for scripts in any language.
type SoakPlan struct {
	Confidence  float64  `json:"confidence"`
	FailedEvery float64  `json:"failed_every"` // 0: not said
	Clean       float64  `json:"clean"`        // without a failure, to show that it fails less often than it did; 0: not asked
	Dip         *DipPlan `json:"dip,omitempty"`
	Cycles      int      `json:"cycles"` // power cycles without a failure; 0: not asked
	Warm        float64  `json:"warm"`
	Planned     float64  `json:"planned"` // the soak to plan, warming up included; 0: none can show it
	Say         []string `json:"say"`     // plain sentences: what that proves, and what not
}

// DipPlan is the part of a plan about one kind of dip as one meter sees it.
type DipPlan struct {
	Length   float64 `json:"length"`
	Depth    float64 `json:"depth"` // share of the value
	Aperture float64 `json:"aperture"`
	Every    float64 `json:"every"`
	Seen     float64 `json:"seen"`  // chance that the meter sees one
	Clean    float64 `json:"clean"` // as in [SoakPlan], divided by that chance; 0: no soak can show it
	Sure     float64 `json:"sure"`  // shortest dip of this depth that it cannot miss; 0: none
}
