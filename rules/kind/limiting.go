package kind

import (
	"fmt"

	"steadyrail/capture"
)

// limiting judges whether the supply that feeds a rail went from constant
// voltage to constant current: entering it during bring-up is itself the
// finding. It listens to the supply's own channels, and is never implied.
type limiting struct{ base }

func newLimiting(c Case) Judge { return &limiting{base{Case: c}} }

func (l *limiting) Blind(capture.Instant) { l.lastAt = 0 }

func (l *limiting) Read(at capture.Instant, r *capture.Reading) { l.keep(at, r) }

func (l *limiting) Condition() Condition {
	switch {
	case l.lastAt == 0:
		return Unknown
	case l.last.Flags.Has(capture.Limiting):
		return Present
	}
	return Absent
}

// said is the condition as a verdict may say it: of a supply that has fallen
// silent nothing is known.
func (l *limiting) said() Condition {
	if !l.known() {
		return Unknown
	}
	return l.Condition()
}

func (l *limiting) Outcome() capture.Outcome {
	switch l.said() {
	case Present:
		return capture.Fail
	case Absent:
		return capture.Pass
	}
	return capture.NoData
}

func (l *limiting) Verdict() capture.Verdict {
	v := l.blank([...]string{"No reading", "Constant voltage", "Constant current: " + l.shown()}[l.said()])
	v.Outcome, v.Value, v.Unit, v.Resolution = l.Outcome(), l.last.Value, l.last.Quantity.Unit().ASCII(), l.last.Resolution
	v.From, v.To = l.lastAt, l.lastAt
	return v
}

func (l *limiting) shown() string {
	return l.last.Quantity.Unit().Text(l.last.Value, l.last.Resolution)
}

func (l *limiting) Finding() Finding {
	return Finding{
		Say:    fmt.Sprintf("The supply of %s limits its current: %s", l.Rail.Name, l.shown()),
		Advice: "switch the output off and look for what draws the current before raising the limit",
		Value:  l.last.Value, Unit: l.last.Quantity.Unit().ASCII(), Evidence: []capture.Instant{l.lastAt},
	}
}

func (l *limiting) Recovery() Finding {
	return Finding{
		Say:   fmt.Sprintf("The supply of %s is back in constant voltage", l.Rail.Name),
		Value: l.last.Value, Unit: l.last.Quantity.Unit().ASCII(), Evidence: []capture.Instant{l.lastAt},
	}
}
