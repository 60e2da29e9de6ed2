package app

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
)

// The pieces that are named come to the time that is claimed, and what the plan
// had off is told apart.
func TestUnderPower(t *testing.T) {
	begin := capture.InstantOf(time.Date(2031, 3, 4, 9, 0, 0, 0, time.UTC))
	part := func(from, to, idle time.Duration) capture.SoakPart {
		return capture.SoakPart{From: begin.Add(from), To: begin.Add(to), Idle: idle}
	}
	for want, s := range map[string]capture.RegimenState{
		"3 min under power": {Watched: 3 * time.Minute},
		"3 min of 8 h under power; besides, power was off for 5 min as planned": {
			Watched: 3 * time.Minute, Needed: 8 * time.Hour, Off: 5 * time.Minute, Parts: []capture.SoakPart{part(0, 8*time.Minute, 5*time.Minute)},
		},
		"6 min of 1 h under power, in 2 pieces of 5 min 58 s and 2 s; besides, power was off for 5 min 2 s as planned": {
			Watched: 6 * time.Minute, Needed: time.Hour, Off: 5*time.Minute + 2*time.Second,
			Parts: []capture.SoakPart{part(0, 11*time.Minute, 5*time.Minute+2*time.Second), part(12*time.Minute, 12*time.Minute+2*time.Second, 0)},
		},
	} {
		if got := underPower(s); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// What is said of a meter that switches itself off hangs on how long the soak is
// to last.
func TestAutoOffNote(t *testing.T) {
	for _, c := range []struct {
		planned time.Duration
		want    string
	}{
		{0, "hand, on +5 V logic, may switch itself off after 15 min: turn that off on the meter, or press a key when it is asked for."},
		{10 * time.Minute, "hand, on +5 V logic, may switch itself off after 15 min without a key: press one now, and it lasts until the soak ends."},
		{15 * time.Minute, "hand, on +5 V logic, may switch itself off after 15 min, before the soak ends: turn that off on the meter, or press a key when it is asked for."},
		{8 * time.Hour, "hand, on +5 V logic, may switch itself off after 15 min, before the soak ends: turn that off on the meter, or press a key when it is asked for."},
	} {
		if got := autoOffNote("hand", "+5 V logic", 15*time.Minute, c.planned); got != c.want {
			t.Errorf("%v: %q", c.planned, got)
		}
	}
}

// What could not be counted is no proof, and is said.
func TestUncountedFailuresProveNothing(t *testing.T) {
	s := capture.RegimenState{State: capture.PlanDone, Watched: time.Hour}
	if got := strings.Join(soakWords(s, 0, nil), " "); !strings.Contains(got, coverage.Proof(0, time.Hour)) {
		t.Error(got)
	}
	if got := strings.Join(soakWords(s, 0, errStopping), " "); strings.Contains(got, coverage.Proof(0, time.Hour)) || !strings.Contains(got, errStopping.Error()) {
		t.Error(got)
	}
}
