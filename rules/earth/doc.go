// Package earth tells, before a lead goes on, whether it would short one net of
// a board to another, and whether its instrument is rated for the place.
//
// The low lead of an instrument is a wire. Where the instrument's low is tied to
// earth (through a port that is not isolated from the computer, through the
// strap on a supply's minus, through a bare sensor of an earthed input), that
// wire is earth, and so is the net it stands on. Two such lows on two nets are a
// short through earth, on the secondary side too. Channels of one instrument
// that share a low are a short in the same way, without earth.
//
// A [Board] is what is there: rails, instruments, placements. It is drawn as a
// graph of nets, lows and earth; a lead is refused when it would close a loop
// from one net to another. What is not stated about an instrument counts as the
// worse of what it may be, for a wrong "isolated" is a burnt board and a wrong
// "earthed" is one line in the configuration.
//
// It judges what it was told: leads that nobody placed, an earth wire of the set
// itself, and nets that go by two names are unknown to it. The boards of all open
// jobs are judged together, for an instrument's low is one wire however many they
// are: see [Board.Beyond].
//
// Everything here is a pure function of its arguments; values are safe for
// concurrent use as long as nobody changes them.
package earth

// Caution stands under every refusal: two lines.
const Caution = "Charged capacitors and the mains side can kill: switch off, discharge and measure before a lead is moved.\n" +
	"This check knows only what it was told. Local codes and licensed practice govern this work."
