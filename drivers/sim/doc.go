// Package sim is a bench that needs no bench: instruments that answer SCPI
// text on pseudo-terminals or TCP ports, over a physical model of a supply, a
// board under repair, a stand-in converter and its heat.
//
// What it promises:
//
//   - Nothing is scripted into a reading. A fault changes a resistance, a
//     current or a cable; what the meters then say follows from the model.
//   - The model is stepped by bench time alone, on a grid that does not depend
//     on who looks when. The same seed and the same acts at the same instants
//     give the same readings.
//   - A reading is the mean over the meter's aperture, so a dip that is short
//     against it is averaged away, as a real meter would.
//   - The instruments read requests with a parser of this package, which
//     shares nothing with drivers/scpi: a misreading there shows here.
//
// A [Handheld] can be laid beside the board: a meter that talks by itself, in
// lines of text or in frames of segments, drawn by an encoder of this package.
//
// The application builds a [Bench] for the demo, tests build one for
// themselves; both talk to it like to hardware, through [Bench.Links]. What a
// technician's hands do (touching, lifting, turning, plugging) are methods of
// Bench. [Bench.Truth] and its neighbours are for tests only: nothing that is
// said to a person may come from them.
//
// The conventions of the simulated supply: bit 0 of the questionable condition
// register is set when voltage is not regulated (constant current), bit 1 when
// current is not regulated (constant voltage), bit 9 after an over-voltage
// trip and bit 10 after an over-current trip. With the output off, bits 0 and
// 1 are both clear.
package sim
