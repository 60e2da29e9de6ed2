package rules

import (
	"reflect"
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
