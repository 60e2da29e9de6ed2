// Package rules judges a job: an [Engine] takes its records and ticks in order
// and says which alarms come and go and what each rail's verdict is.
//
// It promises that the same records give the same alarms, live or years later
// ([Replay]): it reads no clock, starts no goroutine, iterates over no map and
// leaves the work for each reading constant. What a rule hears of another
// channel, or of another rail's alarm, it hears with the next tick, so nothing
// hangs on which of two answers came first. Alarms live after
// ANSI/ISA-18.2-2016 and IEC 62682; the two acts on them are *heard* and
// *reset latch*. A transition from a state to itself says that an alarm became
// muted or is so no more, or that it is told anew: its cause turned into
// another one. A heard alarm that is told anew is unheard again. What goes while
// a person's mute holds ends in normal, as what is shelved does there; a latch
// stays, and so does the alarm of a rule whose trip acted meanwhile.
//
// What a rule looks for is written in package kind, one file for each kind.
// Engines are for the application and its screens; an engine serves one job
// and is not safe for concurrent use.
package rules

// Version names this way of judging. It is recorded with the rules, so that a
// replay by another one can say so.
const Version = "10"
