package drivers

import (
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/modbus"
	"steadyrail/drivers/wire"
)

const tinyModbus = `title: tiny
dialect: modbus
source: manual, page 12
identity:
  serial_number: {register: 4, words: 2, as: number, word_order: low_first}
limiting: {register: 18, mask: 0x0002}
channels:
  - name: volts
    quantity: dc_voltage
    table: input
    register: 16
    words: 2
    signed: true
    word_order: low_first
    byte_order: low_first
    scale: 1e-3
    over_range: [0x7FFFFFFF, 99]
    limiting: true
output: {table: coil, register: 3}
limits:
  - {name: volts, unit: V, register: 33, ask: 43, scale: 0.01, max: 32}
`

func TestParseModbusModel(t *testing.T) {
	m, err := ParseModel("tiny", "tiny.yaml", []byte(tinyModbus))
	if err != nil {
		t.Fatal(err)
	}
	hundredth := modbus.Scale{Coefficient: 1, Exponent: -2}
	want := modbus.Plan{
		Identity: modbus.Identity{Serial: &modbus.Block{Register: 4, Words: 2, Number: true, Format: modbus.Format{Words: 2, LowWordFirst: true}}},
		Limiting: &modbus.Bits{Register: 18, Mask: 2},
		Channels: []modbus.Channel{{
			Info:  capture.ChannelInfo{ID: "volts", Quantity: capture.DCVoltage, Every: defaultEvery},
			Table: modbus.Input, Register: 16, Limiting: true, OverRange: []uint64{0x7FFFFFFF, 99},
			Format: modbus.Format{Words: 2, Signed: true, LowWordFirst: true, LowByteFirst: true, Scale: modbus.Scale{Coefficient: 1, Exponent: -3}},
		}},
		Output: &modbus.Output{Table: modbus.Coil, Register: 3, On: 1},
		Limits: []modbus.Limit{{Name: "volts", Unit: capture.Volt, Register: 33, Ask: 43, Format: modbus.Format{Scale: hundredth}, Max: 32}},
	}
	if !reflect.DeepEqual(m.Registers, want) {
		t.Errorf("got\n%+v\nwant\n%+v", m.Registers, want)
	}
}

// TestModbusModelMistakes: each is told with its line, and nothing is guessed.
func TestModbusModelMistakes(t *testing.T) {
	for _, c := range []struct{ name, old, new, says string }{
		{"unknown key", "register: 16", "adress: 16", `tiny.yaml:8: channel: key "register" is missing`},
		{"a scpi key", "register: 16", `read: "READ?"`, `key "read" is not known`},
		{"octal", "register: 16", "register: 016", ":11: register"},
		{"register too high", "register: 16", "register: 65535", ":8: not allowed: channel volts: register 65535"},
		{"three words", "words: 2\n    signed", "words: 3\n    signed", "words 3: want 1, 2 or 4"},
		{"word order of one word", "words: 2\n    signed", "words: 1\n    signed", "word_order means nothing with one word"},
		{"order misspelt", "word_order: low_first\n    byte", "word_order: little\n    byte", `:14: word_order: "little": want high_first or low_first`},
		{"scale nothing", "scale: 1e-3", "scale: 0", ":16: scale"},
		{"scale with a comma", "scale: 1e-3", `scale: "0,001"`, ":16: scale"},
		{"measured coil", "table: input", "table: coil", `:10: table: "coil": want holding or input`},
		{"over-range no number", "[0x7FFFFFFF, 99]", "[OL]", `:17: over_range: "OL"`},
		{"float32 without resolution", "signed: true", "float32: true", "add resolution"},
		{"limiting bits missing", "limiting: {register: 18, mask: 0x0002}\n", "", "channel volts: limiting is true"},
		{"mask of none", "mask: 0x0002", "mask: 0", "want one or more bits"},
		{"mask too wide", "mask: 0x0002", "mask: 0x10000", "content of a register"},
		{"values of a coil", "register: 3}", "register: 3, on: 1}", "a coil is on or off"},
		{"input as output", "table: coil", "table: input", "want holding or coil"},
		{"limit without max", ", max: 32", "", `key "max" is missing`},
		{"limit that does not fit", "max: 32", "max: 656", "more than 16 bits hold"},
		{"limit in watts", "unit: V", "unit: W", "want V or A"},
		{"identity as what", "as: number", "as: bcd", "want text or number"},
		{"a text's order", "as: number", "as: text", "the orders are of numbers"},
		{"identity that says nothing", "\n  serial_number: {register: 4, words: 2, as: number, word_order: low_first}", " {}", "leave it out"},
		{"a phrase", "limiting: {register", "line: {terminator: CR}\nlimiting: {register", "registers have none"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if strings.Count(tinyModbus, c.old) != 1 {
				t.Fatalf("%q is there %d times", c.old, strings.Count(tinyModbus, c.old))
			}
			_, err := ParseModel("tiny", "tiny.yaml", []byte(strings.Replace(tinyModbus, c.old, c.new, 1)))
			if !errors.Is(err, ErrModel) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v, want %q", err, c.says)
			}
		})
	}
}

// TestModbusLinks: whom a link reaches, in which framing, after which silence.
func TestModbusLinks(t *testing.T) {
	for _, c := range []struct {
		link    string
		unit    int
		framing modbus.Framing
		pause   time.Duration
		says    string
	}{
		{"serial:/dev/ttyUSB0", 1, modbus.RTU, 4_010_416, ""},
		{"serial:/dev/ttyUSB0?baud=115200&address=247", 247, modbus.RTU, 1_750_000, ""},
		{"serial:/dev/ttyUSB0?address=7&pause=20ms", 7, modbus.RTU, 4_010_416, ""}, // the link's pause wins in the wire
		{"tcp:127.0.0.1:502?address=255", 255, modbus.TCP, 0, ""},
		{"tcp:127.0.0.1:502?address=3&framing=rtu", 3, modbus.RTU, 4_010_416, ""},
		{"serial:/dev/ttyUSB0?address=0", 0, 0, 0, "want 1 to 247"},
		{"serial:/dev/ttyUSB0?address=255", 0, 0, 0, "want 1 to 247"},
		{"tcp:127.0.0.1:502?address=256", 0, 0, 0, "want 1 to 247"},
		{"tcp:127.0.0.1:502?address=seven", 0, 0, 0, "no unit address"},
		{"tcp:127.0.0.1:502?address=07", 0, 0, 0, "no unit address"},
		{"tcp:127.0.0.1:502?framing=ascii", 0, 0, 0, "use rtu or tcp"},
	} {
		cfg := Config{Name: "psu", Model: "modbus-meter", Link: c.link}
		b, err := prepare(cfg, shipped(t))
		if c.says != "" {
			if !errors.Is(err, ErrConfig) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%s: %v, want %q", c.link, err, c.says)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", c.link, err)
			continue
		}
		a, _ := wire.ParseAddress(c.link)
		unit, framing, _ := modbusUnit(a)
		if unit != c.unit || framing != c.framing || b.model.Line.Pause != c.pause {
			t.Errorf("%s: unit %d, %s, pause %v", c.link, unit, framing, b.model.Line.Pause)
		}
		if strings.Contains(a.Place(), "?") || strings.Contains(a.Place(), "address") {
			t.Errorf("%s: its place is %s", c.link, a.Place())
		}
	}
}

func FuzzModbusModel(f *testing.F) {
	f.Add([]byte(tinyModbus))
	f.Add([]byte(independentModel))
	f.Fuzz(func(t *testing.T, text []byte) {
		m, err := ParseModel("fuzz", "fuzz.yaml", text)
		if err != nil || m.Dialect != "modbus" {
			return
		}
		if err := m.Registers.Check(); err != nil {
			t.Fatalf("the reader took what the driver refuses: %v", err)
		}
	})
}
