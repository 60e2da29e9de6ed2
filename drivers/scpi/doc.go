// Package scpi drives instruments that answer SCPI-1999 text, through a
// [steadyrail/drivers/wire.Link].
//
// # What it promises
//
// A function is configured once, when it is selected, and then only read:
// asking MEAS? of a meter each time would set range and integration anew, lose
// the null, and click its relays.
//
// Nothing is ever sent that resets an instrument or calls up stored settings
// (*RST, *RCL, SYST:PRES and their kin): on a supply that switches the output
// off in the middle of a soak. One function sends, and it refuses; so does the
// loader of model files. Connecting changes no output and no set-point.
//
// Nothing is measured before the identity was compared, after each connection
// and after each time-out. An answer that cannot be read is [ErrMalformed]; it,
// a time-out or a garbled line puts the driver in doubt. In doubt the next call
// first drains the line, asks for the identity, and empties the instrument's
// error queue. What stood in the queue is reported as [ErrRefused], each entry.
//
// 9.9E37, 9.91E37 and their words become flags of a reading. An answer that
// looks like an identity is never a value.
//
// Acts are refused unless the configuration allows them, and are asked back: an
// act that succeeds was confirmed by the instrument.
//
// # Who may call it
//
// The doorway package drivers builds a [Driver] from a model file. The poller's
// goroutine of the link calls it; only Info and Resyncs may be called from
// other goroutines. The driver starts no goroutine.
package scpi
