package capture

// KindInfo is what people are told of a kind of rule.
type KindInfo struct {
	Name     string        `json:"name"`
	About    string        `json:"about"`    // one sentence
	Follows  bool          `json:"follows"`  // from a rail, without being written
	Dead     bool          `json:"dead"`     // judged without power
	Acts     bool          `json:"acts"`     // judges what is done with an output, in any stage, not readings
	Defaults []KindDefault `json:"defaults"` // one for each rail
	Picture  KindPicture   `json:"picture"`
}

// KindDefault is what holds on a rail where a rule says nothing.
type KindDefault struct {
	Rail string `json:"rail"`
	Say  string `json:"say"`
}

// KindPicture is a small series and what a kind's judge made of it.
type KindPicture struct {
	Points    []Point2 `json:"points"`
	Other     []Point2 `json:"other,omitempty"` // what it is held against
	Low, High float64  // shaded: the band, or up to the limit; equal: nothing is
	Spoke     Instant  `json:"spoke"` // when the judge spoke; 0: it did not
	Say       string   `json:"say"`   // what it said
	// Verdict is what the verdict says then, with its uncertainty, where the meter's
	// accuracy is stated, and Uncertainty the expanded one (k = 2) of a reading.
	Verdict     string  `json:"verdict,omitempty"`
	Uncertainty float64 `json:"uncertainty,omitempty"`
	Unit        Unit    `json:"-"`
}
