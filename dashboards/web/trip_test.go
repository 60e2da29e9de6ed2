package web

import (
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// TestTrippedIsShouted: a trip mutes its own alarm, for the output is off then;
// nobody has heard of it all the same. One that was muted without a trip stays
// out of the way.
func TestTrippedIsShouted(t *testing.T) {
	const rail = "+12 V audio"
	raised := capture.InstantOf(time.Date(2031, 3, 12, 10, 0, 0, 0, time.UTC))
	off := capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: "off", By: capture.ByTrip, Value: 0.003}
	const own = "missing " + rail
	for name, c := range map[string]struct {
		to    capture.AlarmState
		by    string
		rule  string // that trips
		shout bool
	}{
		"latched after a trip":        {capture.Latched, capture.ByTrip, own, true},
		"returned after a trip":       {capture.Returned, capture.ByTrip, own, true},
		"heard":                       {capture.LatchedHeard, capture.ByTrip, own, false},
		"muted while it lasts":        {capture.Active, capture.ByTrip, own, false},
		"muted, and nobody's off":     {capture.Latched, "R. Hale", own, false},
		"another rule of it tripped":  {capture.Latched, capture.ByTrip, "collapse " + rail, false},
		"no rule of the job trips it": {capture.Latched, capture.ByTrip, "", false},
	} {
		act := off
		act.By = c.by
		v := &view{zone: time.UTC, Job: live.JobView{
			Entries: []capture.Entry{{At: raised.Add(time.Second), Act: act}},
			Trips:   map[string]string{c.rule: "supply"},
			Rails:   []live.RailView{{Verdicts: []capture.Verdict{{Rule: "missing " + rail, Kind: "missing", Rail: rail}, {Rule: "trip " + rail + " through supply", Kind: "trip", Rail: rail}}}},
			Alarms: []capture.Transition{{
				Alarm: "missing@1", Rule: "missing " + rail, Rail: rail, Kind: "missing", Severity: capture.Urgent, Raised: raised, At: raised.Add(2 * time.Second), To: c.to,
				Muted: "the output is off", Say: capture.Unwatched(rail+" is off: 0.00 V", rail, "the output is off"),
			}},
		}}
		v.alarms()
		if got := v.Shout != nil; got != c.shout {
			t.Errorf("%s: shouted %t", name, got)
		}
	}
}
