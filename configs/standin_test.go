package configs

import (
	"math"
	"os"
	"strings"
	"testing"

	"steadyrail/rules/standin"
)

func TestStandInExampleIsValid(t *testing.T) {
	f, problems := LoadStandIn("standin.yaml")
	for _, p := range problems {
		t.Error(p)
	}
	if f == nil {
		t.Fatal("nothing was read")
	}
	if f.Need.Rail.Name != "+5 V logic" || f.Need.Load.Value != 1.1 || f.Need.Load.U != 0.02 || f.Need.Ambient.U != 2 || f.Need.Separates != standin.No {
		t.Errorf("need %+v", f.Need)
	}
	c, ok := f.Candidate("step-down board")
	if !ok || c.Inductance.Value != 15e-6 || c.Efficiency.Value != 0.88 || c.PerWatt.Value != 35 || c.DeratePerK.Value != 0.04 || c.Divider.TrimTol != 0.2 {
		t.Errorf("candidate %+v", c)
	}
	if j := standin.Judge(f.Need, c, standin.Scope{}); j.Word != standin.Fits {
		t.Errorf("%s", j.Say)
	}
	if _, ok := f.Candidate(""); ok {
		t.Error("one of two was taken without a name")
	}
}

// A return is told by its copper: 1 ft of AWG 22 has 16.14 mohm by the wire
// tables, and copper at 60 degC 15.72 % more.
func TestCopperInsteadOfOhms(t *testing.T) {
	f, problems := ParseStandIn("f", []byte("rail: \"+5 2%\"\nneed:\n  return_ohm: wire AWG 22, 304.8 mm at 60 degC; measured\n  source_ohm: track 100 mm x 1 mm x 35 um; measured\ncandidates: []\n"))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	if ohm := f.Need.ReturnOhm.Value; math.Abs(ohm/(16.14e-3*1.1572)-1) > 1e-3 || !strings.Contains(f.Need.ReturnOhm.Source, "AWG 22") {
		t.Error(f.Need.ReturnOhm)
	}
	if ohm := f.Need.SourceOhm.Value; math.Abs(ohm/49.26e-3-1) > 1e-4 {
		t.Error(f.Need.SourceOhm)
	}
}

// Each mistake is told with its line and what to write.
func TestStandInMistakes(t *testing.T) {
	const need = "rail: \"+5 2% logic\"\nneed:\n  load: 1 A; measured\n"
	for _, c := range []struct{ name, text, want string }{
		{"no source", "rail: \"+5 2%\"\nneed:\n  load: 1.1 A\ncandidates: []\n", "f:3: need.load: \"1.1 A\" does not say where"},
		{"another unit", "rail: \"+5 2%\"\nneed:\n  load: 1.1 V; measured\ncandidates: []\n", "f:3: need.load"},
		{"two rails", "rail: \"+5 2%, +12 5%\"\nneed: {}\ncandidates: []\n", "f:1: rail: 2 rails"},
		{"unknown key", need + "candidates:\n  - {name: a, topology: linear, in_hight: 3 V; x}\n", "f:5: candidates[0].in_hight: unknown key (did you mean in_high?"},
		{"no topology", need + "candidates:\n  - {name: a}\n", "topology: missing"},
		{"unknown topology", need + "candidates:\n  - {name: a, topology: buck}\n", "\"buck\" is not known here"},
		{"negative", need + "candidates:\n  - {name: a, topology: linear, current: -1 A; x}\n", "must be above zero"},
		{"zero", need + "candidates:\n  - {name: a, topology: linear, frequency: 0 Hz; x}\n", "must be above zero"},
		{"no tolerance", need + "candidates:\n  - {name: a, topology: linear, divider: {held: 1 kohm; x}}\n", "divider.tolerance: missing"},
		{"no gauge", "rail: \"+5 2%\"\nneed:\n  return_ohm: wire AWG 99, 300 mm; x\ncandidates: []\n", "no gauge"},
		{"no size", "rail: \"+5 2%\"\nneed:\n  return_ohm: track 100 mm x 1 mm; x\ncandidates: []\n", "not length x width x thickness"},
		{"wire of nobody", "rail: \"+5 2%\"\nneed:\n  return_ohm: wire AWG 22, 300 mm\ncandidates: []\n", "does not say where"},
		{"neither yes nor no", "rail: \"+5 2%\"\nneed:\n  held_up: perhaps\ncandidates: []\n", "held_up"},
		{"no need", "rail: \"+5 2%\"\ncandidates: []\n", "need: missing"},
		{"nothing", "", "the file"},
		{"no text", "\xff", "not text in UTF-8"},
	} {
		f, problems := ParseStandIn("f", []byte(c.text))
		var b strings.Builder
		Explain(&b, problems)
		if f != nil || !strings.Contains(b.String(), c.want) {
			t.Errorf("%s: got %q, want %q", c.name, b.String(), c.want)
		}
	}
}

func FuzzStandIn(f *testing.F) {
	text, err := os.ReadFile("standin.yaml")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(text))
	f.Add("rail: \"+5 2%\"\nneed: {load: 1 A ± 2; x}\ncandidates: [{name: a, topology: linear, divider: {held: 1; x}}]")
	f.Fuzz(func(t *testing.T, text string) {
		s, problems := ParseStandIn("f", []byte(text))
		if (s == nil) == (len(problems) == 0) {
			t.Fatal("neither a result nor a problem")
		}
		if s == nil {
			return
		}
		for _, c := range s.Candidates {
			if j := standin.Judge(s.Need, c, standin.Scope{}); j.Say == "" {
				t.Fatal("a judgement that says nothing")
			}
		}
	})
}
