package rules

import "steadyrail/capture"

// event is what moves an alarm from state to state.
type event uint8

const (
	comes event = iota // the condition came
	goes               // the condition went
	heard              // a person heard it
	reset              // a person reset the latch
	turns              // the condition stays, its cause turned into another
)

// next is the life cycle of ANSI/ISA-18.2-2016 and IEC 62682:2014. It returns
// the state after an event, and whether the event does anything. A latched
// alarm that comes again is unheard again, like one that had returned. One
// whose cause turned goes the way of the standard's re-alarm (C to B, which is
// optional there and hangs on a timer; here on news): what was heard of it is
// no longer so. Unheard it stays in B, and is told all the same.
func next(from capture.AlarmState, ev event, latch bool) (capture.AlarmState, bool) {
	switch {
	case ev == comes && !from.IsActive():
		return capture.Active, true
	case ev == goes && from == capture.Active && latch:
		return capture.Latched, true
	case ev == goes && from == capture.Active:
		return capture.Returned, true
	case ev == goes && from == capture.Heard && latch:
		return capture.LatchedHeard, true
	case ev == goes && from == capture.Heard:
		return capture.Normal, true
	case ev == heard && from == capture.Active:
		return capture.Heard, true
	case ev == heard && from == capture.Returned:
		return capture.Normal, true
	case ev == heard && from == capture.Latched:
		return capture.LatchedHeard, true
	case ev == turns && from.IsActive():
		return capture.Active, true
	case ev == reset && from == capture.LatchedHeard:
		return capture.Normal, true
	}
	return from, false
}
