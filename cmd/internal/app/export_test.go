package app

// For tests of what a run left half done.
var (
	HalfDone   = halfDone
	InjectedOn = injectedOn
)
