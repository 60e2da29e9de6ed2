// Package walk leads a technician with both hands full from rail to rail: it
// says the next one, sees the touch, waits until the figure stands, has it
// filed, and says the one after.
//
// [Machine] is a state machine without a clock, a meter or a goroutine. It is
// fed with the bench's records in their order ([Machine.Consume]) and with the
// pedal ([Machine.Press]); it answers with what is to be done ([Do]), which the
// application carries out. The same records and presses give the same walk. It
// is not safe for concurrent use.
//
// What it promises:
//
//   - The meter stands on nothing while nobody knows what it touches. It is put
//     on a rail when a touch after a lift has become steady, and taken off with
//     the last figure. A reading that does not agree takes the whole attempt
//     back by a correction, so what the record says of a rail is what was
//     measured while the figure stood there.
//   - A lift is open for [LiftFor]. Without one nothing is filed on the next
//     rail, whatever is read: who stays on the old point stays unheard.
//   - Steady is judged by the change that is still to come, not by slope. The
//     probe is held until the rules are sure of the figure, a little longer at most.
//   - First every rail in volts, then every rail in ohms. The proof that a rail
//     is dead lasts [ProofLasts], or until a supply is switched or set; then the
//     rail is asked in volts again. Under power there are no ohms.
//
// What it cannot do: in volts a dead rail reads like open leads, and so does an
// open rail in ohms. There the pedal says "I am on it", and the record says
// that the pedal said it. A wrong point that is held until the beep reads like
// the right one; where its volts fit another rail of the sheet and not the one
// asked for, it is asked, otherwise the pedal takes it back.
package walk
