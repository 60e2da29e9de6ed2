package rules

import (
	"reflect"
	"strings"
	"testing"

	"steadyrail/capture"
)

// A cold check that passed stands in the dossier although the ohms stay placed
// while power comes, with from when it says nothing of now; told twice it is the same.
func TestColdVerdictStandsUnderPower(t *testing.T) {
	log := opening(nil, five)[:3]
	add := func(sec float64, item capture.Item) {
		log = append(log, capture.Record{At: at(sec) + 13, Job: "AB-0147", Item: item})
	}
	reads := func(from, to float64, ch capture.ChannelID, q capture.Quantity, v float64) {
		for s := from; s < to; s += 0.2 {
			add(s, capture.Reading{Channel: ch, Quantity: q, Value: v, Resolution: 0.001})
		}
	}
	add(0.5, capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	add(0.6, capture.Placement{Channel: "dmm/volts", Rail: five.Name})
	reads(1, 2, "dmm/volts", capture.DCVoltage, 0.001)
	add(2, capture.Placement{Channel: "dmm/ohms", Rail: five.Name, Hold: capture.Clipped})
	reads(2.1, 5, "dmm/ohms", capture.Resistance, 4670)
	add(6, capture.Act{Verb: capture.ActOutput, Subject: "supply/1", Text: "on"})
	reads(6.1, 8, "dmm/ohms", capture.Resistance, 12)
	tell := func() capture.Verdict {
		d, err := BuildDossier(t.Context(), &shelfJob{log: log}, Told{})
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range d.Rails[0].Verdicts {
			if v.Kind == "short" {
				return v
			}
		}
		return capture.Verdict{}
	}
	v := tell()
	if v.Outcome != capture.Pass || v.Value != 4670 || v.Held.Since != at(6)+13 || v.Held.Why != "supply/1 was switched on" {
		t.Errorf("%+v", v)
	}
	if again := tell(); !reflect.DeepEqual(v, again) {
		t.Errorf("%+v, then %+v", v, again)
	}
}

// TestNewestWordOfOhmsThatMayNotBeJudged: "cannot tell" goes when later ohms only have
// to become steady, and comes back when they may not be judged for a charge again.
func TestNewestWordOfOhmsThatMayNotBeJudged(t *testing.T) {
	log := opening(nil, five)[:3]
	add := func(sec float64, item capture.Item) {
		log = append(log, capture.Record{At: at(sec) + 13, Job: "AB-0147", Item: item})
	}
	touch := func(sec float64, ch capture.ChannelID, q capture.Quantity, v, step float64) {
		add(sec, capture.Placement{Channel: "dmm/volts"})
		add(sec, capture.Placement{Channel: "dmm/ohms"})
		add(sec, capture.Placement{Channel: ch, Rail: five.Name})
		for s := 0.1; s < 3; s += 0.2 {
			add(sec+s, capture.Reading{Channel: ch, Quantity: q, Value: v + step*s, Resolution: 0.001})
		}
	}
	said := func(want string) {
		t.Helper()
		d, err := BuildDossier(t.Context(), &shelfJob{log: log}, Told{})
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range d.Rails[0].Verdicts {
			if v.Kind == "short" && !strings.Contains(v.Say, want) {
				t.Errorf("the rule says %q, want %q", v.Say, want)
			}
		}
		if b := d.Rails[0].Before; len(b) != 1 || !strings.Contains(b[0].Say, want) || len(d.Rails[0].After) > 0 {
			t.Errorf("found %+v, then %+v, want %q", b, d.Rails[0].After, want)
		}
	}
	add(0.5, capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	touch(1, "dmm/volts", capture.DCVoltage, 0.52, 0)
	touch(5, "dmm/ohms", capture.Resistance, 900, 0)
	said("0.520 V on the rail, maybe from")
	touch(9, "dmm/volts", capture.DCVoltage, 0.001, 0)
	touch(13, "dmm/ohms", capture.Resistance, 0.5, 1)
	said("Wait: not steady yet")
	touch(80, "dmm/volts", capture.DCVoltage, 0.52, 0)
	touch(84, "dmm/ohms", capture.Resistance, 900, 0)
	said("0.520 V on the rail")
	touch(90, "dmm/volts", capture.DCVoltage, 0.001, 0)
	touch(94, "dmm/ohms", capture.Resistance, 4670, 0)
	said("no short")
}
