// Package modbus drives supplies and meters that are read and written by
// registers, in the RTU and TCP framings of Modbus (Application Protocol
// V1.1b3, Serial Line V1.02), through a [steadyrail/drivers/wire.Link].
//
// # What it promises
//
// A frame is an answer only if its check sum or transaction, its unit, its
// function and its length are those of the request. Noise and an echo before it
// are skipped, so are late answers of other units on the same pair. Everything
// else is an error, and never a value.
//
// A reading is one request: what a channel needs besides its own registers, the
// limiting bits of a supply, is fetched with them when both lie close together,
// so that they are of one moment. The text of a reading is the exact decimal,
// integer times scale, in the base unit.
//
// Connecting only reads. A register is written by an act, and by nothing else;
// acts are refused unless the configuration allows them, and are read back.
//
// After a time-out or an answer that cannot be read, the next call drains the
// line and makes sure who is there. An instrument that says nothing of itself
// is asked twice, and the first answer thrown away: it may be the late one.
//
// Several units share one link: a time-out of one leaves the link in doubt, the
// next one drains it and goes on. Late answers carry their unit's address.
//
// # Who may call it
//
// The doorway package drivers builds a [Driver] from a model file. The poller's
// goroutine of the instrument calls it; only Info, Resyncs and Transfer may be
// called from other goroutines. The driver starts no goroutine.
package modbus
