package configs

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"steadyrail/capture"
)

// TestLoadRules: a whole configuration is taken for its rules, and held against
// the job instead of its own bench.
func TestLoadRules(t *testing.T) {
	f, problems := LoadRules("example.yaml")
	if len(problems) > 0 || len(f.Rules) != 6 || len(f.Formulas) != 1 {
		t.Fatalf("%+v, %v", f, problems)
	}
	sheet := capture.Sheet{Rails: []capture.Rail{{Name: "+5 V logic"}, {Name: "+12 V audio"}}}
	supply := capture.Roster{Instruments: []capture.InstrumentInfo{{Name: "supply", Channels: []capture.ChannelInfo{
		{ID: "supply/volts", Quantity: capture.DCVoltage}, {ID: "supply/amperes", Quantity: capture.DCCurrent}, {ID: "thermo/celsius", Quantity: capture.Temperature},
	}}}}
	if elsewhere, problems := f.Check(sheet, supply, f.Formulas); len(elsewhere)+len(problems) > 0 {
		t.Errorf("%v, %v", elsewhere, problems)
	}
	elsewhere, problems := f.Check(capture.Sheet{}, capture.Roster{}, f.Formulas)
	if len(elsewhere) != len(f.Rules) || !slices.Contains(elsewhere, f.Rules[0].Name) || len(problems) != 1 || !strings.Contains(problems[0].What, "no channel supply/volts") || problems[0].Line == 0 {
		t.Errorf("%v, %v", elsewhere, problems)
	}
}

func TestLoadRulesRefuses(t *testing.T) {
	for text, say := range map[string]string{
		"":                      "empty",
		"bench: east\n":         "nothing to judge by",
		"rules:\n  - {kind: x}": "not known here",
		"rulez: []\nrules: []":  "unknown key",
		"\xff":                  "UTF-8",
	} {
		path := filepath.Join(t.TempDir(), "r.yaml")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		f, problems := LoadRules(path)
		if f != nil || !slices.ContainsFunc(problems, func(p Problem) bool { return strings.Contains(p.What, say) }) {
			t.Errorf("%q: %v", text, problems)
		}
	}
}
