package app

// ClockKept tells whether a time server keeps the computer's clock; known is false
// where the system does not say.
func ClockKept() (yes, known bool) { return synchronised() }
