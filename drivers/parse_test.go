package drivers

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

const tiny = `title: tiny
dialect: scpi
source: manual, page 12
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
		{"unknown key", add("colour: red\n"), `:8: model: key "colour" is not known: use title, dialect`},
		{"doubled key", add("title: again\n"), `:8: model: key "title" is there twice`},
		{"key in other case", swap("title:", "Title:"), `key "Title" is not known`},
		{"missing title", swap("title: tiny\n", ""), `key "title" is missing`},
		{"missing read", swap(`    read: "READ?"`+"\n", ""), `:5: channel: key "read" is missing`},
		{"no channels", "title: a\ndialect: scpi\nchannels: []\n", "channels: there is none"},
		{"null", swap("tiny", "~"), ":1: title: want one plain value"},
		{"nested where a text belongs", swap("tiny", "{a: b}"), "title: want one plain value"},
		{"unknown dialect", swap("scpi", "morse"), `:2: dialect: "morse" is not known: use `},
		{"unknown quantity", swap("dc_voltage", "loudness"), ":6: quantity: "},
		{"bad name", swap("name: volts", "name: Vo/lts"), ":5: name: "},
		{"not a query", swap("READ?", "READ"), ":7: read: "},
		{"two queries", swap("READ?", "READ?;FETC?"), ":7: read: "},
		{"reset in a query", swap("READ?", "*RST;READ?"), ":7: read: not allowed"},
		{"not ASCII", swap("READ?", "READ µ?"), "printable ASCII"},
		{"reset on connecting", add("set_up: [\"*RST\"]\n"), ":8: set_up: not allowed"},
		{"output on connecting", add("set_up: [\"OUTP ON\"]\n"), "without anyone's asking"},
		{"octal", add("line: {baud: 09600}\n"), `:8: baud: "09600" is not a whole number`},
		{"exponent", add("line: {baud: 96e2}\n"), `baud: "96e2"`},
		{"underscore", add("line: {baud: 9_600}\n"), `baud: "9_600"`},
		{"negative baud", add("line: {baud: -1}\n"), "baud"},
		{"parity", add("line: {parity: maybe}\n"), "none, odd, even"},
		{"a time without unit", add("line: {answer_timeout: 500}\n"), `answer_timeout: "500" is not a time`},
		{"not yes or no", add("    read_back: yes\n"), `:8: read_back: "yes" is not true or false`},
		{"no interval", add("    every: 0 s\n"), "every: must be more than nothing"},
		{"limiting without how", add("    limiting: true\n"), "does not say how to ask"},
		{"group without select", add("    group: input\n"), "no select phrase"},
		{"two of a name", add("  - {name: volts, quantity: dc_voltage, read: \"A?\"}\n"), ":8: channel volts: there are two"},
		{"mask of nothing", add("limiting: {ask: \"A?\", mask: 0}\n"), "mask: want one or more bits"},
		{"mask too wide", add("limiting: {ask: \"A?\", mask: 65536}\n"), "register of 16"},
		{"per cent", ranges("range: 10, of_reading: 1.5, resolution: 0.1, source: s"), "parts, not per cent"},
		{"infinite range", ranges("range: .inf, resolution: 0.1, source: s"), "not a number from 0 on"},
		{"resolution over range", ranges("range: 0.1, resolution: 1, source: s"), "not below the range"},
		{"accuracy without source", ranges("range: 10, resolution: 0.1"), `key "source" is missing`},
		{"limit without place for the number", add("limits: [{name: volts, unit: V, set: \"VOLT 5\", ask: \"VOLT?\", step: 1, max: 2}]\n"), "with {} in the place"},
		{"limit in ohms", add("limits: [{name: volts, unit: ohm, set: \"VOLT {}\", ask: \"VOLT?\", step: 1, max: 2}]\n"), "want V or A"},
		{"limit without step", add("limits: [{name: volts, unit: V, set: \"VOLT {}\", ask: \"VOLT?\", step: 0, max: 2}]\n"), "step and max"},
		{"no source", swap("source: manual, page 12\n", ""), `:1: model: key "source" is missing`},
		{"a wrong dialect alone", strings.Replace(add("identity: 7\n"), "scpi", "morse", 1), `dialect: "morse" is not known`},
		{"handshake", add("line: {handshake: maybe}\n"), ":8: line: "},
		{"levels that are not stated", add("line: {levels_for: power}\n"), ":8: levels_for: state dtr and rts"},
		{"echo", add("line: {echo: maybe}\n"), ":8: line: "},
		{"pause", add("line: {pause: 20}\n"), `:8: pause: "20" is not a time`},
		{"pause too long", add("line: {pause: 20 s}\n"), ":8: line: "},
		{"opening that resets", add("line: {opening: [\"*RST\"]}\n"), ":8: opening: not allowed"},
		{"opening that is answered", add("line: {opening: [\"A?\"]}\n"), ":8: opening: not allowed"},
		{"closing that switches", add("line: {closing: [\"OUTP OFF\"]}\n"), ":8: closing: not allowed"},
		{"address without a place for it", add("line: {select: \"ADDR 5\"}\n"), ":8: select: \"ADDR 5\": want a command with {}"},
		{"address that switches", add("line: {select: \"OUTP {}\"}\n"), ":8: select: not allowed"},
		{"auto-off without unit", add("auto_off: 15\n"), `:8: auto_off: "15" is not a time`},
		{"input in volts", add("    input_ohms: 10 V\n"), `:8: input_ohms: "10 V" is not a resistance`},
		{"input of nothing", add("    input_ohms: 0 ohm\n"), `:8: input_ohms: "0 ohm" is not a resistance`},
		{"settle without unit", add("    settle: 100\n"), `:8: settle: "100" is not a time`},
		{"range that cannot be set free", add("    fix_range: \"RANG {}\"\n"), "channel volts: fix_range and auto_range go together"},
		{"range without ranges", add("    fix_range: \"RANG {}\"\n    auto_range: \"RANG:AUTO ON\"\n"), "channel volts: fix_range: the channel lists no ranges"},
		{"range without place for it", add("    fix_range: \"RANG 10\"\n"), ":8: fix_range: "},
		{"range that is a set-point", add("    fix_range: \"VOLT {}\"\n"), ":8: fix_range: not allowed"},
		{"range that is asked", add("    auto_range: \"RANG:AUTO?\"\n"), ":8: auto_range: not allowed"},
		{"identity of nobody", add("identity: me\n"), `:8: identity: "me": want idn, none, or {ask, pattern}`},
		{"identity without pattern", add("identity: {ask: \"ID?\"}\n"), `:8: identity: key "pattern" is missing`},
		{"identity that resets", add("identity: {ask: \"*RST\", pattern: \"(?P<model>.*)\"}\n"), ":8: ask: not allowed"},
		{"pattern that is none", add("identity: {ask: \"ID?\", pattern: \"(\"}\n"), ":8: pattern: "},
		{"pattern without model", add("identity: {ask: \"ID?\", pattern: \".*\"}\n"), "no group named model or serial"},
		{"pattern with another group", add("identity: {ask: \"ID?\", pattern: \"(?P<name>.*)\"}\n"), `group "name" means nothing: use maker`},
		{"unknown quirk", add("quirks: [moody]\n"), `:8: quirks: "moody" is not known: use no-error-queue`},
		{"quirk twice", add("quirks: [no-cls, no-cls]\n"), ":8: quirks: no-cls is there twice"},
		{"output of another name", add("    output: \"3\"\n"), `channel volts: there is no output "3"`},
		{"several outputs and one at the top", add("outputs: [{name: \"1\"}]\nlimits: []\n"), "outputs: an instrument with several outputs"},
		{"output chosen unasked", add("outputs: [{name: \"1\", choose: \"INST:NSEL 1\"}]\n"), "output 1: choose and chosen go together"},
		{"two outputs of a name", add("outputs: [{name: \"1\"}, {name: \"1\"}]\n"), ":8: output 1: there are two"},
		{"output with a slash", add("outputs: [{name: 1/2}]\n"), `:8: name: "1/2"`},
		{"making ready by switching", add("input: {ready: [\"INP ON\"], on: \"INP ON\", off: \"INP OFF\", ask: \"INP?\"}\n"), ":8: ready: not allowed"},
		{"a supply and a load", add("input: {on: \"INP ON\", off: \"INP OFF\", ask: \"INP?\"}\noutput: {on: \"A\", off: \"B\", ask: \"C?\"}\n"), "output and input: a supply has the one"},
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
	_, err := ParseModel("a", "a.yaml", []byte("titel: a\ndialect: scpi\nidentity: nobody\nchannels:\n  - {name: V}\n"))
	for _, says := range []string{`"titel" is not known`, `"title" is missing`, `"nobody": want idn, none`, `name: "V"`, `"quantity" is missing`, `"read" is missing`} {
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
	if got := m.Names(); !slices.IsSorted(got) || !slices.Contains(got, "my-meter") || len(got) != len(shipped(t))+1 {
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
	files, err := builtin.ReadDir("models")
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range files {
		text, err := builtin.ReadFile("models/" + file.Name())
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
		if err := m.Plan.Check(); err != nil || m.Dialect == "scpi" && len(m.Plan.Channels) == 0 {
			t.Fatalf("taken, but %v", err)
		}
	})
}

// Levels of a model are a wish, unless it says what they are needed for.
func TestLevelsAreWishedOrNeeded(t *testing.T) {
	for line, want := range map[string]string{"baud: 9600": "", `dtr: "off"`: "any", `rts: "off", levels_for: power`: "needed"} {
		m, err := ParseModel("tiny", "tiny.yaml", []byte(tiny+"line: {"+line+"}\n"))
		if err != nil || m.Line.Levels != want {
			t.Errorf("%s: levels %q, want %q: %v", line, m.Line.Levels, want, err)
		}
	}
}
