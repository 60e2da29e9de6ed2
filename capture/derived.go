package capture

// Derived is what a formula came to, or why it comes to nothing now.
type Derived struct {
	Formula     Formula
	At          Instant // the tick at which this became so
	Reading     Reading // the newest figure under [Formula.Channel]; Ordinal 0: there was none yet
	Uncertainty float64 // of Reading, expanded, k = 2, different meters taken as independent; 0: not stated
	Why         string  // no figure holds now: "supply/volts is 4 s old, 3 s are allowed"; "": Reading does
}
