package kind

import (
	"slices"

	"steadyrail/capture"
)

// energised follows which outputs are off by the record, to tell which acts may have
// put power on a board. Of an output that is not known to be off the worse is taken:
// a hand at its panel is in no record. The zero value knows of none.
type energised struct {
	off, on []string
	ever    bool // one was switched on, or may have been
}

// take takes an act and says why it may have put power on a rail since the newest
// reading; "" where it cannot have. Setting the limits of an output that was asked and
// is off does not, nor does switching off one that was.
func (e *energised) take(act *capture.Act) (why string) {
	switch act.Verb {
	case capture.ActLinkLost:
		e.drop(act)
	case capture.ActReadBack:
		return e.readBack(act)
	case capture.ActLimits:
		if !capture.SetWhileOff(act.Text) && !e.knownOff(act.Subject) {
			return act.Subject + " was set"
		}
	case capture.ActOutput:
		return e.switched(act)
	}
	return ""
}

func (e *energised) switched(act *capture.Act) (why string) {
	known := e.knownOff(act.Subject)
	switch act.Text {
	case "off":
		e.drop(act)
		e.off = append(e.off, act.Subject)
		e.on = slices.DeleteFunc(e.on, act.Concerns)
		return "" // it was announced, and what it may have done with that
	case capture.SwitchingOff:
		if !known {
			why = act.Subject + " may have been on"
		}
		return why
	}
	e.drop(act)
	e.on, e.ever = append(e.on, act.Subject), true
	if act.Text == capture.NotConfirmed {
		return act.Subject + " may have been on"
	}
	return act.Subject + " was switched on"
}

// readBack takes what an output said of itself.
func (e *energised) readBack(act *capture.Act) (why string) {
	known := e.knownOff(act.Subject)
	e.drop(act)
	switch {
	case !capture.ReadsOff(act.Text):
	case capture.FoundOff(act.Text) && !known:
		why = act.Subject + " may have been on"
		fallthrough
	default:
		e.off = append(e.off, act.Subject)
		e.on = slices.DeleteFunc(e.on, act.Concerns)
	}
	return why
}

// knownOff reports whether an output, or all of an instrument, is off by the record.
func (e *energised) knownOff(subject string) bool {
	return slices.ContainsFunc(e.off, func(o string) bool { return (&capture.Act{Subject: o}).Concerns(subject) })
}

// drop forgets that what an act is about is off.
func (e *energised) drop(act *capture.Act) {
	e.off = slices.DeleteFunc(e.off, func(o string) bool { return act.Concerns(o) || (&capture.Act{Subject: o}).Concerns(act.Subject) })
}

// mayBeOn reports whether an output was switched on and not off again.
func (e *energised) mayBeOn() bool { return len(e.on) > 0 }
