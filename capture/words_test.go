package capture_test

import (
	"encoding"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// Every word that is written comes back as it was.
func TestWordsComeBack(t *testing.T) {
	var written []encoding.TextMarshaler
	var read []encoding.TextUnmarshaler
	add := func(m encoding.TextMarshaler, u encoding.TextUnmarshaler) {
		written, read = append(written, m), append(read, u)
	}
	for _, q := range append(capture.Quantities(), capture.NoQuantity) {
		add(q, new(capture.Quantity))
	}
	for s := capture.Notice; s <= capture.Urgent; s++ {
		add(s, new(capture.Severity))
	}
	for s := capture.Normal; s <= capture.LatchedHeard; s++ {
		add(s, new(capture.AlarmState))
	}
	for o := capture.NoData; o <= capture.Fail; o++ {
		add(o, new(capture.Outcome))
	}
	for _, h := range []capture.Hold{capture.Touched, capture.Clipped} {
		add(h, new(capture.Hold))
	}
	for i, m := range written {
		text, err := m.MarshalText()
		if err != nil {
			t.Fatal(err)
		}
		if err := read[i].UnmarshalText(text); err != nil {
			t.Errorf("%q: %v", text, err)
		}
		if again, _ := read[i].(encoding.TextMarshaler).MarshalText(); string(again) != string(text) {
			t.Errorf("%q came back as %q", text, again)
		}
		if err := read[i].UnmarshalText([]byte("nonsense")); err == nil || !strings.Contains(err.Error(), "nonsense") {
			t.Errorf("%T took nonsense: %v", read[i], err)
		}
	}
}

func TestFlagsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := capture.Flags(rapid.Uint16Range(0, uint16(capture.ByEye)<<1-1).Draw(t, "flags"))
		text, _ := f.MarshalText()
		var back capture.Flags
		if err := back.UnmarshalText(text); err != nil || back != f {
			t.Fatalf("%q came back as %q, %v", f, back, err)
		}
	})
}

func FuzzParseFlags(f *testing.F) {
	for _, s := range []string{"", "timeout", "timeout+held", "+", "good", "by_eye+typed"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		flags, err := capture.ParseFlags(s)
		if err != nil {
			if flags != 0 {
				t.Fatalf("%q: %s with %v", s, flags, err)
			}
			return
		}
		if again, err := capture.ParseFlags(flags.String()); err != nil || again != flags {
			t.Fatalf("%q: %s became %s, %v", s, flags, again, err)
		}
	})
}

func TestFlagsSayWhatMayBeJudged(t *testing.T) {
	for _, c := range []struct {
		f               capture.Flags
		hasValue, judge bool
		outcome         string
	}{
		{0, true, true, "good"},
		{capture.Typed | capture.ByEye, true, true, "good"},
		{capture.Limiting, true, true, "good"},
		{capture.Held, true, false, "good"},
		{capture.LowBattery, true, false, "good"},
		{capture.OverRange, false, false, "over_range"},
		{capture.TimedOut | capture.Held, false, false, "timeout"},
		{capture.Garbled, false, false, "garbled"},
		{capture.Disconnected, false, false, "disconnected"},
		{capture.Mismatch, false, false, "mismatch"},
		{capture.Refused, false, false, "refused"},
	} {
		r := capture.Reading{Flags: c.f}
		if r.HasValue() != c.hasValue || r.Good() != c.judge || c.f.Outcome() != c.outcome {
			t.Errorf("%q: value %v, judged %v, counted as %s", c.f, r.HasValue(), r.Good(), c.f.Outcome())
		}
	}
	for _, name := range capture.Outcomes()[1:] {
		if f, err := capture.ParseFlags(name); err != nil || f.Outcome() != name {
			t.Errorf("outcome %s: flag %s, %v", name, f, err)
		}
	}
}

func TestOneWordForEachOutcome(t *testing.T) {
	want := map[capture.Outcome]string{
		capture.NoData: "no data", capture.Pass: "yes", capture.ConditionalPass: "cannot tell", capture.ConditionalFail: "cannot tell", capture.Fail: "no",
	}
	for o, w := range want {
		if o.Word() != w {
			t.Errorf("%s is said as %q, want %q", o, o.Word(), w)
		}
	}
}

// The states and letters of ANSI/ISA-18.2-2016 and IEC 62682:2014.
func TestAlarmStatesAfterTheStandard(t *testing.T) {
	raw, err := os.ReadFile(reference + "alarms/transitions.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		States map[string]string
	}
	if err := json.Unmarshal(raw, &file); err != nil {
		t.Fatal(err)
	}
	if len(file.States) != 6 {
		t.Fatalf("%d states in the file", len(file.States))
	}
	for s := capture.Normal; s <= capture.LatchedHeard; s++ {
		if file.States[s.Letter()] != s.String() {
			t.Errorf("state %s is %q, the standard's is %q", s.Letter(), s, file.States[s.Letter()])
		}
		if active := s.Letter() == "B" || s.Letter() == "C"; s.IsActive() != active {
			t.Errorf("state %s: active %v", s.Letter(), s.IsActive())
		}
	}
}

func TestUnitsOfQuantities(t *testing.T) {
	for q, want := range map[capture.Quantity]string{
		capture.DCVoltage: "V volts", capture.ACVoltage: "V volts", capture.DiodeDrop: "V volts", capture.DCCurrent: "A amperes", capture.Resistance: "ohm ohms",
		capture.Capacitance: "F farads", capture.Frequency: "Hz hertz", capture.Temperature: "degC celsius", capture.Power: "W watts", capture.Ratio: " ratio",
	} {
		if u := q.Unit(); u.ASCII()+" "+u.Plural() != want {
			t.Errorf("%s is in %s, %s", q, u.ASCII(), u.Plural())
		}
	}
	if capture.Ohm.Symbol() != "Ω" || capture.Celsius.String() != "°C" {
		t.Error("symbols for people")
	}
}

func TestStages(t *testing.T) {
	for _, s := range capture.Stages() {
		if !s.Known() {
			t.Errorf("%s is not known", s)
		}
	}
	if capture.Stage("lunch").Known() || capture.ColdChecks.Live() || capture.Preset.Live() || !capture.Soak.Live() {
		t.Error("which stages are live")
	}
}

func TestIdentity(t *testing.T) {
	id := capture.Identity{Maker: "Bench Works", Model: "M6", Serial: "00123457", Firmware: "1.0"}
	if got := id.String(); got != "Bench Works M6, serial number 00123457" {
		t.Errorf("printed as %q", got)
	}
	if (capture.Identity{}).String() != "unknown" || (capture.Identity{Serial: "7"}).String() != "serial number 7" {
		t.Error("identities in part")
	}
	newer, other := id, id
	newer.Firmware, other.Serial = "1.1", "123457"
	if !id.Same(newer) || id.Same(other) {
		t.Error("firmware may change, leading zeros count")
	}
}

func TestChannelID(t *testing.T) {
	id := capture.ChannelID("dmm/volts")
	if id.Instrument() != "dmm" || id.Input() != "volts" || capture.ChannelID("dmm").Input() != "" {
		t.Errorf("%s and %s", id.Instrument(), id.Input())
	}
	roster := capture.Roster{Instruments: []capture.InstrumentInfo{{Name: "dmm", Channels: []capture.ChannelInfo{{ID: id, Quantity: capture.DCVoltage}}}}}
	if c, ok := roster.Channel(id); !ok || c.Quantity != capture.DCVoltage {
		t.Error("a channel of the roster")
	}
	if _, ok := roster.Channel("dmm/ohms"); ok {
		t.Error("a channel that is not there")
	}
	if _, ok := roster.Instrument("dmm"); !ok {
		t.Error("an instrument of the roster")
	}
}
