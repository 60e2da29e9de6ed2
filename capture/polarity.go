package capture

// ActPolarity says which way round a resistance is measured from now on. Subject
// is the channel, Text [Forward] or [Reverse].
const ActPolarity Verb = "polarity"

// The ways round.
const (
	Forward = "forward" // the lead that is positive in ohms on the rail
	Reverse = "reverse" // it is on the return
)
