package configs

import (
	"os"
	"strings"
	"testing"

	"steadyrail/rules/diagnose"
)

func TestBoardExampleIsValid(t *testing.T) {
	b, problems := LoadBoard("board.yaml")
	for _, p := range problems {
		t.Error(p)
	}
	if b == nil {
		t.Fatal("nothing was read")
	}
	if len(b.Rails) != 5 || len(b.Converters) != 4 || b.Converters[0].InOhms != 15000 || b.Loads[0].Connector != "CN3" || b.Rails[1].Point != "TP5" {
		t.Errorf("%+v", b)
	}
}

// Each mistake is told with its line; so are loops and what hangs in the air.
func TestBoardMistakes(t *testing.T) {
	const top = "rails:\n  - \"+18 20% raw\"\n  - \"+5 2% logic\"\nsources:\n  - {name: BR1, rail: +18 V raw}\nconverters:\n"
	const ps2 = "  - {name: PS2, in: +18 V raw, out: +5 V logic, ohms: 600 ohm, in_ohms: 8 kohm}\n"
	for _, c := range []struct{ name, text, want string }{
		{"orphan", "rails:\n  - \"+18 20% raw\"\n  - \"+5 2% logic\"\nsources:\n  - {name: BR1, rail: +18 V raw}\n", "f:3: rails[1]: nothing makes +5 V logic"},
		{"unknown rail", top + ps2 + "loads:\n  - {name: a, rail: +5 V lagic, ohms: 3 ohm}\n", "f:9: loads[0].rail: there is no rail \"+5 V lagic\""},
		{"loop", "rails:\n  - \"+18 20% a\"\n  - \"+5 2% b\"\n  - \"+3 2% c\"\nsources:\n  - {name: BR1, rail: +18 V a}\nconverters:\n" +
			"  - {name: X, in: +3 V c, out: +5 V b, ohms: 9 ohm, in_ohms: 9 ohm}\n  - {name: Y, in: +5 V b, out: +3 V c, ohms: 9 ohm, in_ohms: 9 ohm}\n", "f:8: converters[0].out: a loop: +5 V b is made from +3 V c is made from +5 V b"},
		{"made twice", top + ps2 + strings.Replace(ps2, "PS2", "PS9", 1), "f:8: converters[1].out: +5 V logic is made twice, first on line 7"},
		{"name twice", top + ps2 + "capacitors:\n  - {name: ps2, rail: +5 V logic}\n", "f:9: capacitors[0].name: ps2 is there already, on line 7"},
		{"connector is a part", top + ps2 + "loads:\n  - {name: a, rail: +5 V logic, ohms: 3 ohm, connector: PS2}\n", "f:7: converters[0].name: PS2 is a connector, too"},
		{"no ohms", top + "  - {name: PS2, in: +18 V raw, out: +5 V logic, in_ohms: 8 kohm}\n", "converters[0].ohms: missing"},
		{"kind", top + strings.Replace(ps2, "}", ", kind: boost}", 1), "f:7: converters[0].kind: "},
		{"nothing healthy", top + strings.Replace(ps2, "600 ohm", "0 ohm", 1), "no resistance of a healthy part"},
		{"usual", top + ps2 + "usual:\n  - {part: PS2, fault: tired, times: 3, source: us}\n", "f:9: usual[0]: PS2 does not fail as \"tired\""},
		{"usual without source", top + ps2 + "usual:\n  - {part: PS2, fault: weak, times: 3}\n", "usual[0].source: missing"},
		{"nothing", "", "the file"},
		{"no text", "\xff", "not text in UTF-8"},
	} {
		f, problems := ParseBoard("f", []byte(c.text))
		var b strings.Builder
		Explain(&b, problems)
		if f != nil || !strings.Contains(b.String(), c.want) {
			t.Errorf("%s: got %q, want %q", c.name, b.String(), c.want)
		}
	}
}

func FuzzBoard(f *testing.F) {
	text, err := os.ReadFile("board.yaml")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(text))
	f.Fuzz(func(t *testing.T, text string) {
		b, problems := ParseBoard("f", []byte(text))
		if (b == nil) == (len(problems) == 0) {
			t.Fatal("neither a result nor a problem")
		}
		if b != nil {
			if again, problems := ParseBoard("again", WriteBoard(*b)); again == nil {
				t.Fatalf("written, it does not read back: %v", problems)
			}
		}
		if b != nil && len(b.Faults()) < 30 {
			if _, err := diagnose.New(*b).Weigh(nil); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// Points are in order, with distances for all of a rail or for none; healthy
// resistances are of rails that are there, once each.
func TestBoardPointMistakes(t *testing.T) {
	const top = "rails:\n  - \"+18 20% raw\"\nsources:\n  - {name: BR1, rail: +18 V raw}\n"
	for _, c := range []struct{ name, text, want string }{
		{"order", "points:\n  - {name: a, rail: +18 V raw, at: 9 mm}\n  - {name: b, rail: +18 V raw, at: 3 mm}\n", "f:7: points[1]: b is not farther along than a"},
		{"one without", "points:\n  - {name: a, rail: +18 V raw, at: 9 mm}\n  - {name: b, rail: +18 V raw}\n", "f:7: points[1]: a and b: only one has a distance"},
		{"twice", "points:\n  - {name: a, rail: +18 V raw}\n  - {name: A, rail: +18 V raw}\n", "f:7: points[1]: A is on +18 V raw already"},
		{"no rail", "points:\n  - {name: a, rail: +19 V raw}\n", "there is no rail"},
		{"no length", "points:\n  - {name: a, rail: +18 V raw, at: 9}\n", "no distance along a trace"},
		{"too long", "points:\n  - {name: a, rail: +18 V raw, at: 90 m}\n", "no distance along a trace"},
		{"healthy twice", "healthy:\n  - {rail: +18 V raw, ohms: 9 ohm}\n  - {rail: +18 V raw, ohms: 9 ohm}\n", "f:7: healthy[1]: +18 V raw is there twice"},
		{"healthy of nothing", "healthy:\n  - {rail: +19 V raw, ohms: 9 ohm}\n", "there is no rail"},
	} {
		f, problems := ParseBoard("f", []byte(top+c.text))
		var b strings.Builder
		Explain(&b, problems)
		if f != nil || !strings.Contains(b.String(), c.want) {
			t.Errorf("%s: got %q, want %q", c.name, b.String(), c.want)
		}
	}
}
