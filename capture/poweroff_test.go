package capture

import (
	"slices"
	"testing"
)

// When a rail was without power is told by stages and outputs, of the whole job; a
// rail that fell while an output was off was fed from elsewhere.
func TestCold(t *testing.T) {
	rail := Rail{Name: "+5 V logic"}
	type step struct {
		at      Instant
		subject string
		text    string // empty: an alarm of the rail
	}
	first := ColdSpan{1, 10, "the stage is cold checks"}
	for name, c := range map[string]struct {
		fed   string
		steps []step
		want  []ColdSpan
		fell  []Instant
	}{
		"stages":                     {"", nil, []ColdSpan{first}, nil},
		"off and on":                 {"", []step{{20, "psu", "switching off"}, {21, "psu", "off"}, {30, "psu", "on"}}, []ColdSpan{first, {20, 30, "psu is off"}}, nil},
		"one of two goes on again":   {"", []step{{20, "psu/1", "off"}, {21, "psu/2", "off"}, {30, "psu/1", "on"}}, []ColdSpan{first, {20, 30, "psu/1 is off"}, {21, 0, "psu/2 is off"}}, nil},
		"only the other feeds it":    {"psu/1", []step{{20, "psu/2", "off"}}, []ColdSpan{first}, nil},
		"all of both":                {"psu/1", []step{{20, "psu", "off"}, {30, "psu/1", "on"}}, []ColdSpan{first, {20, 30, "psu is off"}}, nil},
		"one, then all":              {"", []step{{20, "psu/1", "off"}, {22, "psu", "off"}}, []ColdSpan{first, {20, 22, "psu/1 is off"}, {22, 0, "psu is off"}}, nil},
		"nobody knows that it is":    {"", []step{{20, "psu", "switching off"}, {22, "psu", "not confirmed off"}}, []ColdSpan{first, {20, 22, "psu is off"}}, nil},
		"fed from elsewhere, falls":  {"", []step{{20, "psu", "off"}, {25, "", ""}}, []ColdSpan{first, {20, 25, "psu is off"}}, []Instant{25, 25}},
		"does not come up again":     {"", []step{{20, "psu", "off"}, {25, "psu", "on"}, {27, "", ""}, {29, "", ""}}, []ColdSpan{first, {20, 25, "psu is off"}}, []Instant{27, 29}},
		"fell, and was switched off": {"", []step{{19, "", ""}, {20, "psu", "off"}, {20, "", ""}}, []ColdSpan{first, {20, 0, "psu is off"}}, []Instant{19, 20}},
	} {
		var p PowerOff
		p.Act(1, Act{Verb: ActStage, Stage: ColdChecks})
		p.Act(10, Act{Verb: ActStage, Stage: LiveChecks})
		for _, s := range c.steps {
			if s.text == "" {
				p.Alarm(Transition{Kind: "missing", Rail: rail.Name, Raised: s.at})
				p.Alarm(Transition{Kind: "missing", Rail: "+12 V audio", Raised: s.at - 1})
				continue
			}
			p.Act(s.at, Act{Verb: ActOutput, Subject: s.subject, Text: s.text})
		}
		rail.FedFrom = c.fed
		cold, fell := Sheet{Rails: []Rail{rail}}.Cold(rail, p.Spans(), func(name string) bool { return name == "psu" })
		if !slices.Equal(cold, c.want) || !slices.Equal(fell, c.fell) {
			t.Errorf("%s: %v %v, want %v %v", name, cold, fell, c.want, c.fell)
		}
	}
}

// What was handed out does not change with what comes after.
func TestSpansHandedOutStay(t *testing.T) {
	var p PowerOff
	p.Act(1, Act{Verb: ActOutput, Subject: "psu", Text: "off"})
	p.Alarm(Transition{Kind: "collapse", Rail: "+5 V logic", Raised: 2})
	was := p.Spans()
	p.Alarm(Transition{Kind: "collapse", Rail: "+5 V logic", Raised: 3})
	p.Alarm(Transition{Kind: "band", Rail: "+12 V audio", Raised: 3})
	p.Act(4, Act{Verb: ActOutput, Subject: "psu", Text: "on"})
	if s := was[0]; s.To != 0 || len(s.Fell) != 1 || s.Fell[0].Last != 2 {
		t.Errorf("%+v", s)
	}
}
