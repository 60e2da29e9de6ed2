package capture

// KindInfo is what people are told of a kind of rule.
type KindInfo struct {
	Name     string        `json:"name"`
	About    string        `json:"about"`    // one sentence
	Follows  bool          `json:"follows"`  // from a rail, without being written
	Dead     bool          `json:"dead"`     // judged without power
	Defaults []KindDefault `json:"defaults"` // one for each rail
}

// KindDefault is what holds on a rail where a rule says nothing.
type KindDefault struct {
	Rail string `json:"rail"`
	Say  string `json:"say"`
}
