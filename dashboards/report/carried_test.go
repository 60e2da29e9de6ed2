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
	trip.Around = five.Around
	d.Alarms = []capture.AlarmStory{five, twelve, dsp, trip}
	d.Outputs = []capture.OutputEvidence{{
		Output: "supply", Rails: []string{"+5 V logic", "+12 V audio", "+3.3 V DSP"},
		Verdict: capture.Verdict{Rule: trip.Rule, Kind: trip.Kind, Outcome: capture.Fail, Say: trip.Say},
	}}
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
		"supply switched its output off by itself: its over-current protection tripped", "Fell at the same time:", "+12 V audio collapsed: from 5.011 V to 3.087 V.<",
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
	if got := words(t, d); !strings.Contains(got, "raised 2 alarms and saw one failure: not passed.") {
		t.Errorf("the soak does not count the falls that were told: %s", teller{d, options()}.soakLead())
	}
}

// What is said of an output names it and all its rails, and draws none of them.
func TestAVerdictOfAnOutputIsToldOfTheOutput(t *testing.T) {
	d := supplyTripped("")
	rows := teller{d, options()}.verdicts()
	last := rows[len(rows)-1]
	if last.Rule != "found off" || strings.ReplaceAll(last.Rail, nbsp, " ") != "supply (+5 V logic, +12 V audio and +3.3 V DSP)" || last.Verdict.Mark != "outside" {
		t.Errorf("%+v", last)
	}
	views, _, _ := teller{d, options()}.alarms()
	facts := strings.ReplaceAll(strings.Join(views[0].Facts, " "), nbsp, " ")
	if !strings.Contains(facts, "+5 V logic, +12 V audio and +3.3 V DSP hang on supply.") || strings.Contains(facts, "outside the band") || views[0].Figure != nil {
		t.Errorf("%q, figure %v", facts, views[0].Figure)
	}
	for i, want := range []int{2, 2, 0} { // its own fall, and the trip
		if got := len(teller{d, options()}.marks(d.Rails[i])) - len(teller{d, options()}.marks(capture.RailEvidence{})); got != want {
			t.Errorf("%s: %d marks, want %d", d.Rails[i].Rail.Name, got, want)
		}
	}
	d.Outputs[0].Rails = nil
	if got := (teller{d, options()}).outputFact(d.Alarms[3]); got != "No rail of this job is known to hang on supply." {
		t.Errorf("%q", got)
	}
}
