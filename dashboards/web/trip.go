package web

import (
	"time"

	"steadyrail/capture"
)

// tripSoon is how soon after an alarm what a trip did is taken for its doing.
const tripSoon = 30 * time.Second

// tripOf says what the trip did that an alarm began; "" when there was none.
func (v *view) tripOf(t capture.Transition) string {
	for _, e := range v.Job.Entries {
		if e.At < t.Raised || e.At.Sub(t.Raised) > tripSoon || e.Act.By != capture.ByTrip || !v.trips(t.Rule, e.Act.Subject) {
			continue
		}
		switch {
		case e.Act.Tripped():
			return e.Act.Subject + " off, read back " + capture.Second.Text(e.Act.Value, 0.001) + " after the reading"
		case e.Act.Verb == capture.ActOutput && e.Act.Text == "not confirmed off":
			return e.Act.Subject + " NOT confirmed off: switch it off by hand"
		}
	}
	return ""
}

// trips reports whether it is this rule whose alarm switches the output off.
func (v *view) trips(rule, output string) bool {
	own := v.Job.Trips[rule]
	return own != "" && own == output
}

// tripCautions are the two lines that stand beside a rail's trip; none without.
func tripCautions(verdicts []capture.Verdict) []string {
	for _, ver := range verdicts {
		if ver.Kind == "trip" {
			return capture.TripCaution[:]
		}
	}
	return nil
}
