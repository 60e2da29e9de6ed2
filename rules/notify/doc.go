// Package notify tells people about alarms: a [Notifier] carries one message
// somewhere, a [Dispatcher] keeps a bounded queue and one goroutine for each.
//
// It promises that [Dispatcher.Send] never waits: measuring goes on whatever a
// receiver does. When a queue is full its oldest message that is not urgent is
// dropped and counted, and the next one that arrives says so. A storm is told
// as one, its first messages at once. A delivery that fails is tried again with growing pauses, in order,
// until it is given up and counted; a receiver can tell a repeated delivery by
// its key ([Message.Key]).
//
// The application makes one dispatcher and sends it the engine's transitions.
// Time-outs and pauses here are wall time, whatever the bench's clock does.
package notify
