// Package wire carries lines of text and frames of bytes between the bench and
// its instruments: over serial ports, USBTMC, HID bridges and the network. It is
// the one place that knows a serial library.
//
// # What it promises
//
// The descriptor of a [Conn] has one owner at a time: the goroutine that holds
// the turn. It alone reads, writes and closes. So no byte of ours is ever
// written after the descriptor was closed, when its number may already belong
// to another supply's port or to a job's file: the serial library itself would
// do that. Reads wait 50 ms at most, so a cancelled context and Close are
// noticed without closing from outside.
//
// Only terminated lines are answers. A read that comes back empty is a time-out
// and becomes an error here, once. An unterminated, over-long or unprintable
// line is [ErrGarbled].
//
// A late answer is never taken for the next query's. After a time-out, after a
// garbled line, and when bytes came that nobody asked for, the link is in
// doubt: Query answers [ErrInDoubt] without sending anything until Drain was
// called. What came late may still be on its way, so the caller then asks
// something whose answer cannot be confused, the identity, before it trusts
// the link again. Send works in doubt: switching an output off must not wait.
//
// One thing no line of text can tell: a far end that sends an answer too many,
// and the right one only while the next query is already under way, stays one
// answer behind for as long as it is asked without a pause. The first pause
// longer than an answer shows it, and polls have one.
//
// A setting that an adapter does not do is told when it is opened, by name
// ([ErrSettings]): going on would read characters that only look right. Levels of
// DTR and RTS that a model only wishes for are the exception, see [Conn.Unset].
// Linux raises both lines whenever a port is opened, whatever is asked; they are
// low a moment later (TestKernelSerial shows it).
//
// When the port vanishes the descriptor is dropped at once and every call
// answers [ErrGone]; a new Conn is opened on what comes back.
//
// A write that hangs cannot be interrupted on any system. It is abandoned
// without closing: the caller gets [ErrStuck], and the goroutine that hangs
// owns the descriptor from then on and closes it, should the write ever end.
// No goroutine runs while nothing is written aside.
//
// # Who may call it
//
// Drivers, through [Link]; the doorway, through [Open]; commands, through
// [Ports]. All methods of Conn, [Recorder] and [Player] may be called from
// several goroutines; exchanges are carried out one after another.
//
// # Traps of the library (go.bug.st/serial 1.8.0), all closed here
//
//   - Read returns 0 and nil on a time-out.
//   - Write does not look whether the port is closed.
//   - A Write has no time-out, and Close does not end it.
//   - Read panics when the descriptor's number is 1024 or more, because select
//     takes no more: Open finds out and refuses.
//   - Listing ports opens the built-in ones on Linux: [Ports] reads what the
//     kernel publishes instead, and opens nothing.
package wire
