package configs

import (
	"slices"
	"strings"
	"testing"
)

func TestSoakPlanExample(t *testing.T) {
	p, problems := LoadSoakPlan("soakplan.yaml")
	for _, q := range problems {
		t.Error(q)
	}
	if p.For != 8*3600 || p.Warm != 3600 || !slices.Equal(p.Steps, []float64{22, 24, 26}) || p.Back != 24 || p.Each != 1200 || p.Cycles != 6 || p.Off != 600 || p.On != 1200 || p.Output != "supply" {
		t.Errorf("%+v", p)
	}
}

func TestSoakPlanMistakes(t *testing.T) {
	for text, want := range map[string][]string{
		"for: 8\n":                                  {`f:1: for: "8" is no length of time`},
		"for: 8 h\nwarm: long\neach: x\n":           {`f:2: warm: "long" is no length`, `f:3: each: "x" is no length`},
		"for: 8 h\nhours: 3\n":                      {"f:2: hours"},
		"warm: 1 h\n":                               {"say how long it is to soak"},
		"for: 1 h\ncycles: 10\non: 20 min\n":        {"how long it is off"},
		"for: 8 h\nwarm: [1 h]\n":                   {"f:2: warm: a single value is wanted here"},
		"for: 8 h\nsteps: [1 V, 2 A]\n":             {"f:2: steps"},
		"for: 8 h\nsteps:\n  - {a: 1}\noutput: x\n": {"f:3: steps[0]"},
		"":                     {"empty"},
		"for: 8 h\nfor: 9 h\n": {"f:2"},
		"for: 1 h\nload: load\nloads: 1 A\neach: 2h": {"longer than the soak"},
	} {
		_, problems := ParseSoakPlan("f", []byte(text))
		if len(problems) < len(want) {
			t.Errorf("%q: %v", text, problems)
			continue
		}
		for i, w := range want {
			if !strings.Contains(problems[i].String(), w) {
				t.Errorf("%q: %q, not %q", text, problems[i].String(), w)
			}
		}
	}
}

func FuzzSoakPlan(f *testing.F) {
	f.Add("for: 8 h\nsteps: [22 V, 26 V]\noutput: supply\neach: 9 min\n")
	f.Fuzz(func(t *testing.T, text string) {
		p, problems := ParseSoakPlan("f", []byte(text))
		if len(problems) == 0 && p.Check() != nil {
			t.Errorf("%q was taken: %v", text, p.Check())
		}
	})
}
