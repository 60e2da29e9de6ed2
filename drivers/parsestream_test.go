package drivers

import (
	"errors"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

const tinyStream = `title: hand
dialect: stream
source: manual, page 12
lines:
  pattern: '(?P<value>[-+][0-9.]{5}|OL) (?P<unit>m?V)(?P<flags>.*)'
  units:
    - {text: V, quantity: dc_voltage}
    - {text: mV, quantity: dc_voltage, unit: mV}
  words:
    - {text: OL, means: over_range}
agree: 2
listen: 3 s
ask: "44 0D"
channels:
  - {name: volts, quantity: dc_voltage}
`

func TestParseStream(t *testing.T) {
	m, err := ParseModel("hand", "hand.yaml", []byte(tinyStream))
	if err != nil {
		t.Fatal(err)
	}
	p := m.Stream
	if len(p.Lines.Units) != 2 || p.Agree != 2 || p.Listen != 3*time.Second || string(p.Ask) != "D\r" ||
		p.Channels[0].Info.Quantity != capture.DCVoltage || p.Channels[0].Info.Every != defaultEvery || len(m.Acts()) != 0 {
		t.Fatalf("%+v", m)
	}
}

// TestStreamMistakes: each is told with its line.
func TestStreamMistakes(t *testing.T) {
	swap := func(old, new string) string {
		if !strings.Contains(tinyStream, old) {
			t.Fatalf("%q is not there", old)
		}
		return strings.Replace(tinyStream, old, new, 1)
	}
	for _, c := range []struct{ name, text, says string }{
		{"pattern", swap("(?P<value>", "(?P<walue>"), `:5: lines: pattern: group "walue" is not known`},
		{"no regular expression", swap("OL)", "OL"), ":5: lines: pattern: error parsing regexp"},
		{"unknown meaning", swap("over_range", "tired"), `:10: means: "tired" is not known: use ac, dc, held`},
		{"unknown quantity", swap("dc_voltage", "loudness"), ":7: quantity: "},
		{"unit of something else", swap("unit: mV", "unit: mohm"), `:5: lines: units: "mV"`},
		{"bytes", swap("44 0D", "4"), ":13: ask: "},
		{"agree", swap("agree: 2", "agree: 9"), ":1: agree: 9: want 1 to 5"},
		{"two kinds", swap("agree: 2", "segments: {celsius: 2}"), ":1: frames: want either lines or segments"},
		{"phrases of another dialect", swap("agree: 2", "set_up: [A]"), `key "set_up" is not known`},
		{"bits", swap("agree: 2", "segments: {celsius: 3}"), "want either"},
		{"two channels of a quantity", tinyStream + "  - {name: more, quantity: dc_voltage}\n", "cannot tell which is meant"},
		{"two of a name", tinyStream + "  - {name: volts, quantity: resistance}\n", ":16: channel volts: there are two"},
		{"closing", tinyStream + "line: {closing: [BYE]}\n", "instruments that listen"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := ParseModel("hand", "hand.yaml", []byte(c.text))
			if !errors.Is(err, ErrModel) || !strings.Contains(err.Error(), c.says) {
				t.Fatalf("got %v, want it to say %q", err, c.says)
			}
		})
	}
}

// TestShippedStreamsAreMarked: no statement here may pass for a maker's.
func TestShippedStreamsAreMarked(t *testing.T) {
	for name, m := range shipped(t) {
		for _, c := range m.Stream.Channels {
			for _, a := range c.Info.Accuracy {
				if !strings.Contains(a.Uncertainty, "invented for the simulated bench") {
					t.Errorf("%s %s: source %q", name, c.Info.ID, a.Uncertainty)
				}
			}
		}
	}
}
