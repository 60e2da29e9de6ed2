package rules

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// soakIn is a soak of 96 s in a stage, in which the rail falls for a while.
func soakIn(t *testing.T, stage capture.Stage, fell float64, acts ...capture.Record) *capture.SoakEvidence {
	t.Helper()
	log := append(opening(nil, five), capture.Record{At: at(0.5), Item: capture.Act{Verb: capture.ActStage, Stage: stage}})
	log = append(log, acts...)
	for s := 1.0; s < 100; s += 0.2 {
		v := 5.001
		if s >= 50 && s < 50+fell {
			v = 0.9
		}
		log = append(log, capture.Record{At: at(s) + 13, Item: volts("dmm/volts", v)})
	}
	sortLog(log)
	d, err := BuildDossier(bg, &shelfJob{log: log}, Told{Soaks: []SoakSpan{{From: at(2), To: at(98), Planned: time.Minute}}})
	if err != nil {
		t.Fatal(err)
	}
	return d.Soak
}

// No rule is armed in the cold checks: what no alarm came for proves nothing.
func TestSoakInAColdStageIsNotJudged(t *testing.T) {
	s := soakIn(t, capture.ColdChecks, 3)
	said := plain(strings.Join(s.Say, " "))
	if s.Passed || s.Watched != 0 || s.Failures != 1 {
		t.Errorf("%+v", s)
	}
	for _, want := range []string{"Not judged: the stage was cold checks", "+5 V logic left its band without an alarm, 48 s into the soak: to 0.900 V, for 3 s"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is missing in %q", want, said)
		}
	}
	if s := soakIn(t, capture.ColdChecks, 0); s.Passed || s.Failures != 0 || strings.Contains(strings.Join(s.Say, " "), "No rail failed") {
		t.Errorf("%+v", s)
	}
}

// A fall that no alarm tells of is a failure all the same.
func TestSoakWithAFallAndNoAlarmIsNotPassed(t *testing.T) {
	if s := soakIn(t, capture.Soak, 0.5); s.Passed || s.Failures != 1 {
		t.Errorf("below the collapse limit: %+v", s)
	}
	if s := soakIn(t, capture.Soak, 0); !s.Passed {
		t.Errorf("nothing fell: %+v", s)
	}
}

func TestAnOutputThatIsOffIsNotWatched(t *testing.T) {
	output := func(sec float64, text string) capture.Record {
		return capture.Record{At: at(sec), Item: capture.Act{Verb: capture.ActOutput, Subject: "psu", Text: text}}
	}
	s := soakIn(t, capture.Soak, 3, output(49, capture.SwitchingOff), output(49.5, "off"), output(59, "on"))
	if s.Passed || s.Pieces != 2 || s.To.Sub(s.From)-s.Watched != 10*time.Second || s.Failures != 0 {
		t.Errorf("%+v", s)
	}
}

// What its plan had off is told apart, and the pieces come to what was watched.
func TestPiecesOfASoakComeToWhatWasWatched(t *testing.T) {
	output := func(sec float64, text, by string) capture.Record {
		return capture.Record{At: at(sec), Item: capture.Act{Verb: capture.ActOutput, Subject: "psu", Text: text, By: by}}
	}
	s := soakIn(t, capture.Soak, 0, output(30, "off", capture.ByPlan), output(40, "on", capture.ByPlan), output(60, "off", "me"), output(65, "on", "me"))
	var sum time.Duration
	for _, p := range s.Parts {
		sum += p.Long()
	}
	if s.Pieces != 2 || len(s.Parts) != 2 || sum != s.Watched || s.Off != 10*time.Second || s.Watched != 81*time.Second {
		t.Errorf("%+v, in all %s", s, sum)
	}
	if want := "Soaked for 1.6 min, of it with power off as planned for 10 s, watched for 1.3 min of 1 min planned under power in 2 pieces of 48 s and 33 s."; plain(s.Say[0]) != want {
		t.Errorf("%q, want %q", plain(s.Say[0]), want)
	}
}
