package capture

// The texts of [ActOutput] that are neither "on" nor "off".
const (
	// SwitchingOff is posted before the supply is told, so that the fall which follows
	// is no alarm; "off" comes when it has been confirmed, [NotConfirmed] when it was
	// not.
	SwitchingOff = "switching off"
	// NotConfirmed takes an announcement back, or says of an output that was to go on
	// that it may be: nobody knows that it is off, so the rules watch again. The record
	// does not say "on", for nobody confirmed it.
	NotConfirmed = "not confirmed off"
)
