package report

import (
	"slices"
	"strings"

	"steadyrail/capture"
)

// fell is an alarm of a rail that fell with the supply that feeds it, in one line.
type fell struct{ When, Say, Gone, Heard string }

// carried tells an alarm that is the consequence of a supply's trip. Which of its
// rails was seen to fall first is no question then: they hang on one output.
func (t teller) carried(a capture.AlarmStory) fell {
	say := a.Say
	if a.First != "" {
		say = strings.Replace(say, "; "+a.First, "", 1)
	}
	f := fell{When: t.fine(a.Raised), Say: sentence(capture.TrueMinus(say)), Gone: "still there when the record ended"}
	if !a.Cleared.IsZero() {
		f.Gone = "gone after " + span(a.Cleared.Sub(a.Raised))
	}
	switch {
	case a.Untold() != "":
		f.Heard = "nobody told: " + capture.TrueMinus(a.Untold())
	case a.Heard.IsZero():
		f.Heard = "nobody has said that it was heard"
	default:
		f.Heard = "heard " + t.fine(a.Heard)
	}
	if a.Standing() {
		f.Heard += "; stands open"
	}
	return f
}

// trip finds the alarm of a supply's trip that an alarm is the consequence of: -1
// when there is none that anybody was told of.
func (t teller) trip(a capture.AlarmStory) int {
	if a.Follows == "" {
		return -1
	}
	return slices.IndexFunc(t.d.Alarms, func(o capture.AlarmStory) bool { return o.Alarm == a.Follows && !quiet(o) })
}
