package rules

import (
	"testing"

	"steadyrail/capture"
)

// Volts without power are no result of a rule, yet they were measured: what they
// say stands on the rail, and that of a stage under power does not.
func TestVoltsWithoutPowerStandOnTheirRail(t *testing.T) {
	for _, c := range []struct {
		name  string
		stage capture.Stage
		volts []float64
		want  string
	}{
		{"dead", capture.ColdChecks, []float64{0.31, 0.0003}, "Dead"},
		{"negative", capture.Isolate, []float64{-0.02}, "Dead"},
		{"charged", capture.TakeIn, []float64{0.0003, -0.05}, "Not dead"},
		{"under power", capture.LiveChecks, []float64{0.0003}, ""},
		{"not read", capture.ColdChecks, nil, ""},
	} {
		log := append(opening(nil, five), capture.Record{At: at(0.5), Item: capture.Act{Verb: capture.ActStage, Stage: c.stage}})
		for i, v := range c.volts {
			log = append(log, capture.Record{At: at(1 + float64(i)), Item: volts("dmm/volts", v)})
		}
		d, err := BuildDossier(bg, &shelfJob{log: log}, Told{})
		if err != nil {
			t.Fatal(err)
		}
		got := d.Rails[0].Dead
		if c.want == "" {
			if got != nil {
				t.Errorf("%s: %+v", c.name, got)
			}
			continue
		}
		if got == nil || got.Say != c.want || got.Value != c.volts[len(c.volts)-1] || got.Stage != c.stage {
			t.Errorf("%s: %+v, want %s", c.name, got, c.want)
		}
	}
}
