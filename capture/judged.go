package capture

// Judged is the final figure of a rail with the budget of its uncertainty and
// what was decided from it: everything that is needed to do it again by hand.
type Judged struct {
	Rail          string    `json:"rail"`
	Stage         Stage     `json:"stage"`
	Quantity      Quantity  `json:"quantity"`
	Channel       ChannelID `json:"channel"`
	At            Instant   `json:"at"`         // of the last reading
	Value         float64   `json:"value"`      // base unit: the mean of N readings
	Resolution    float64   `json:"resolution"` // base unit
	N             int       `json:"n"`
	Effective     float64   `json:"effective_n"`     // readings that count as independent
	Range         float64   `json:"range,omitempty"` // of the accuracy that was used; 0: none is stated
	Parts         []Part    `json:"parts"`
	Standard      float64   `json:"standard,omitempty"` // u, base unit
	Coverage      float64   `json:"coverage,omitempty"` // k
	Expanded      float64   `json:"expanded,omitempty"` // U = k u; 0: not stated
	Outcome       Outcome   `json:"outcome"`
	Say           string    `json:"say"`
	Probability   float64   `json:"probability,omitempty"`    // as [Verdict.Probability]
	NormalAssumed bool      `json:"normal_assumed,omitempty"` // scatter and leads weigh in it, and their shape is not known
	Ambient       *float64  `json:"ambient,omitempty"`        // °C that was measured or typed; nil: assumed 23
	GuardShare    float64   `json:"guard_share,omitempty"`    // part of the band in which this meter cannot tell
	Notes         []string  `json:"notes,omitempty"`          // "assumed 23 °C", "half the band is “cannot tell” with this meter"
	Indicated     bool      `json:"indicated,omitempty"`      // no accuracy stated
	Overdue       bool      `json:"overdue,omitempty"`        // the meter's calibration was, when it was read
}

// Part is one component of a budget, in the base unit of the figure.
type Part struct {
	Name         string  `json:"name"`  // "accuracy"
	Value        float64 `json:"value"` // half-width, or standard deviation of a normal one
	Distribution string  `json:"distribution"`
	Divisor      float64 `json:"divisor"`
	Standard     float64 `json:"standard"`          // Value over Divisor
	Weight       float64 `json:"weight,omitempty"`  // part of u² that it makes, 0 to 1
	Degrees      float64 `json:"degrees,omitempty"` // of freedom; 0: as many as one likes
	Source       string  `json:"source,omitempty"`
}
