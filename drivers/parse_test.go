package drivers

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

const tiny = `title: tiny
dialect: scpi
channels:
  - name: volts
    quantity: dc_voltage
    read: "READ?"
`

func TestParseModel(t *testing.T) {
	m, err := ParseModel("tiny", "tiny.yaml", []byte(tiny))
	if err != nil {
		t.Fatal(err)
	}
	c := m.Plan.Channels[0]
	if m.Title != "tiny" || c.Name != "volts" || c.Quantity != capture.DCVoltage || c.Every != 200*time.Millisecond {
		t.Fatalf("%+v", m)
	}
}

// TestModelMistakes: each is told with its line, and nothing is guessed.
func TestModelMistakes(t *testing.T) {
	add := func(s string) string { return tiny + s }
	swap := func(old, new string) string {
		if !strings.Contains(tiny, old) {
			t.Fatalf("%q is not there", old)
		}
		return strings.Replace(tiny, old, new, 1)
	}
	ranges := func(s string) string { return add("    ranges:\n      - {" + s + "}\n") }
	for _, c := range []struct{ name, text, says string }{
		{"empty", "", "tiny.yaml:1: the file is empty"},
		{"only a comment", "# nothing\n", ":1: the file is empty"},
		{"no YAML", "title: [", ":1: "},
		{"tab", "title: a\n\tdialect: scpi\n", ":2: "},
		{"a list", "- a\n", ":1: model: want keys"},
		{"unknown key", add("colour: red\n"), `:7: model: key "colour" is not known: use title, dialect`},
		{"doubled key", add("title: again\n"), `:7: model: key "title" is there twice`},
		{"key in other case", swap("title:", "Title:"), `key "Title" is not known`},
		{"missing title", swap("title: tiny\n", ""), `key "title" is missing`},
		{"missing read", swap(`    read: "READ?"`+"\n", ""), `:4: channel: key "read" is missing`},
		{"no channels", "title: a\ndialect: scpi\nchannels: []\n", "channels: there is none"},
		{"null", swap("tiny", "~"), ":1: title: want one plain value"},
		{"nested where a text belongs", swap("tiny", "{a: b}"), "title: want one plain value"},
		{"unknown dialect", swap("scpi", "morse"), `:2: dialect: "morse" is not known: use scpi`},
		{"unknown quantity", swap("dc_voltage", "loudness"), ":5: quantity: "},
		{"bad name", swap("name: volts", "name: Vo/lts"), ":4: name: "},
		{"not a query", swap("READ?", "READ"), ":6: read: "},
		{"two queries", swap("READ?", "READ?;FETC?"), ":6: read: "},
		{"reset in a query", swap("READ?", "*RST;READ?"), ":6: read: not allowed"},
		{"not ASCII", swap("READ?", "READ µ?"), "printable ASCII"},
		{"reset on connecting", add("set_up: [\"*RST\"]\n"), ":7: set_up: not allowed"},
		{"output on connecting", add("set_up: [\"OUTP ON\"]\n"), "without anyone's asking"},
		{"octal", add("line: {baud: 09600}\n"), `:7: baud: "09600" is not a whole number`},
		{"exponent", add("line: {baud: 96e2}\n"), `baud: "96e2"`},
		{"underscore", add("line: {baud: 9_600}\n"), `baud: "9_600"`},
		{"negative baud", add("line: {baud: -1}\n"), "baud"},
		{"parity", add("line: {parity: maybe}\n"), "none, odd, even"},
		{"a time without unit", add("line: {answer_timeout: 500}\n"), `answer_timeout: "500" is not a time`},
		{"not yes or no", add("    read_back: yes\n"), `:7: read_back: "yes" is not true or false`},
		{"no interval", add("    every: 0 s\n"), "every: must be more than nothing"},
		{"limiting without how", add("    limiting: true\n"), "does not say how to ask"},
		{"group without select", add("    group: input\n"), "no select phrase"},
		{"two of a name", add("  - {name: volts, quantity: dc_voltage, read: \"A?\"}\n"), ":7: channel volts: there are two"},
		{"mask of nothing", add("limiting: {ask: \"A?\", mask: 0}\n"), "mask: want one or more bits"},
		{"mask too wide", add("limiting: {ask: \"A?\", mask: 65536}\n"), "register of 16"},
		{"per cent", ranges("range: 10, of_reading: 1.5, resolution: 0.1, source: s"), "parts, not per cent"},
		{"infinite range", ranges("range: .inf, resolution: 0.1, source: s"), "not a number from 0 on"},
		{"resolution over range", ranges("range: 0.1, resolution: 1, source: s"), "not below the range"},
		{"accuracy without source", ranges("range: 10, resolution: 0.1"), `key "source" is missing`},
		{"limit without place for the number", add("limits: [{name: volts, unit: V, set: \"VOLT 5\", ask: \"VOLT?\", step: 1, max: 2}]\n"), "with {} in the place"},
		{"limit in ohms", add("limits: [{name: volts, unit: ohm, set: \"VOLT {}\", ask: \"VOLT?\", step: 1, max: 2}]\n"), "want V or A"},
		{"limit without step", add("limits: [{name: volts, unit: V, set: \"VOLT {}\", ask: \"VOLT?\", step: 0, max: 2}]\n"), "step and max"},
		{"output that resets", add("output: {on: \"OUTP ON\", off: \"*RST\", ask: \"OUTP?\"}\n"), "off: not allowed"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := ParseModel("tiny", "tiny.yaml", []byte(c.text))
			if !errors.Is(err, ErrModel) || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "tiny.yaml:") {
				t.Fatalf("got %v, want it to say %q", err, c.says)
			}
		})
	}
}

// TestAllMistakesAtOnce: one run of check is enough.
func TestAllMistakesAtOnce(t *testing.T) {
	_, err := ParseModel("a", "a.yaml", []byte("titel: a\ndialect: morse\nchannels:\n  - {name: V}\n"))
	for _, says := range []string{`"titel" is not known`, `"title" is missing`, "morse", `name: "V"`, `"quantity" is missing`, `"read" is missing`} {
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q is not told in\n%v", says, err)
		}
	}
}

func TestLoadModels(t *testing.T) {
	dir := t.TempDir()
	put := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	put("my-meter.yaml", tiny)
	put("scpi-thermometer.yaml", tiny) // wins over the built-in one
	put("notes.txt", "not a model")
	m, err := LoadModels(dir)
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(m.Names(), " "); got != "my-meter scpi-multimeter scpi-supply scpi-thermometer" {
		t.Fatalf("got %s", got)
	}
	if m["scpi-thermometer"].Title != "tiny" || m["scpi-supply"].Title == "tiny" {
		t.Fatal("the user's file did not win")
	}
	put("broken.yaml", "title: x")
	if _, err := LoadModels(dir); !errors.Is(err, ErrModel) || !strings.Contains(err.Error(), "broken.yaml:1") {
		t.Fatalf("got %v", err)
	}
	if _, err := LoadModels(filepath.Join(dir, "nowhere")); !errors.Is(err, os.ErrNotExist) {
		t.Fatalf("got %v", err)
	}
}

// TestShippedAccuracyIsMarked: no statement here may pass for a maker's.
func TestShippedAccuracyIsMarked(t *testing.T) {
	for name, m := range shipped(t) {
		for _, c := range m.Plan.Channels {
			for _, a := range c.Ranges {
				if !strings.Contains(a.Uncertainty, "invented for the simulated bench") {
					t.Errorf("%s %s: source %q", name, c.Name, a.Uncertainty)
				}
			}
		}
	}
}

func FuzzParseModel(f *testing.F) {
	f.Add(tiny)
	for _, name := range []string{"scpi-multimeter", "scpi-supply", "scpi-thermometer"} {
		text, err := builtin.ReadFile("models/" + name + ".yaml")
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(text))
	}
	f.Add("a: &a [*a]\n")
	f.Fuzz(func(t *testing.T, text string) {
		m, err := ParseModel("x", "x.yaml", []byte(text))
		if err != nil {
			if !errors.Is(err, ErrModel) {
				t.Fatal(err)
			}
			return
		}
		if err := m.Plan.Check(); err != nil || len(m.Plan.Channels) == 0 {
			t.Fatalf("taken, but %v", err)
		}
	})
}
