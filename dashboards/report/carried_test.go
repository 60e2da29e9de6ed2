package report

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// supplyTripped is a job in which a supply tripped: two rails that it feeds were seen
// to fall before it was found off, a third behind one of them.
func supplyTripped(by string) capture.Dossier {
	d := fullStory()
	found := fall.Add(150 * time.Millisecond)
	trip := capture.AlarmStory{
		Alarm: capture.AlarmID("found off supply", found), Rule: "found off supply", Kind: "found off", Rail: "+5 V logic", Severity: capture.Urgent, Raised: found,
		Say: capture.WhyOff("supply", "output off, tripped: over-current"), Transitions: []capture.Transition{{At: found, From: capture.Normal, To: capture.Active, Muted: by}},
	}
	five, twelve, dsp := collapseStory(), collapseStory(), collapseStory()
	for i, s := range []*capture.AlarmStory{&five, &twelve, &dsp} {
		rail := []string{"+5 V logic", "+12 V audio", "+3.3 V DSP"}[i]
		s.Rule, s.Alarm, s.Rail, s.Follows = "collapse "+rail, capture.AlarmID("collapse "+rail, fall), rail, trip.Alarm
		s.Say = rail + " collapsed: from 5.011 V to 3.087 V"
	}
	twelve.First = "cannot tell whether +5 V logic fell first"
	twelve.Say += "; " + twelve.First
	twelve.Cleared, twelve.Heard, twelve.Transitions = 0, 0, twelve.Transitions[:1]
	dsp.Transitions = []capture.Transition{{At: fall, From: capture.Normal, To: capture.Active, Muted: "+5 V logic feeds it"}, {At: fall.Add(time.Second), From: capture.Active, To: capture.Normal}}
	d.Alarms = []capture.AlarmStory{five, twelve, dsp, trip}
	d.Soak.Failures = 1
	return d
}

// What fell with a supply is told under the supply's own alarm, and none is lost.
func TestFallsOfASupplyAreToldWithIt(t *testing.T) {
	d := supplyTripped("")
	views, untold, err := teller{d, options()}.alarms()
	if err != nil || len(views) != 1 || len(untold) != 0 || len(views[0].Fell) != 3 || len(views[0].Followed) != 0 {
		t.Fatalf("%d views, %d untold, %v: %+v", len(views), len(untold), err, views)
	}
	got := words(t, d)
	for _, want := range []string{
		"supply switched its output off by itself: its over-current protection tripped", "Fell with it:", "+12 V audio collapsed: from 5.011 V to 3.087 V.<",
		"still there when the record ended", "nobody has said that it was heard; stands open", "nobody told: +5 V logic feeds it", "and raised one alarm: not passed.",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("does not say %q", want)
		}
	}
	if strings.Contains(got, "cannot tell whether") {
		t.Error("asks which of the supply's rails fell first")
	}
}

// Where a person had muted the trip, each fall that was told stands on its own.
func TestFallsOfAMutedTripStandOnTheirOwn(t *testing.T) {
	d := supplyTripped("muted by R. Hale")
	trip := &d.Alarms[3]
	trip.Transitions = append(trip.Transitions, capture.Transition{At: trip.Raised.Add(time.Second), From: capture.Active, To: capture.Normal, Muted: "muted by R. Hale"})
	trip.Cleared = trip.Raised.Add(time.Second)
	views, untold, err := teller{d, options()}.alarms()
	if err != nil || len(views) != 2 || len(untold) != 1 || len(views[0].Followed) != 1 {
		t.Errorf("%d views, %d untold, %v: %+v", len(views), len(untold), err, views)
	}
}
