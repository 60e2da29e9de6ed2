package drivers

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// plainMeter is an instrument with one input that reads what it is told.
type plainMeter struct {
	Instrument
	says     map[capture.ChannelID]capture.Reading
	err      error
	selected []capture.ChannelID
}

func (m *plainMeter) Info() capture.InstrumentInfo {
	volts := []capture.Accuracy{{Range: 0.1, OfReading: 50e-6, OfRange: 50e-6, Resolution: 1e-7}}
	ohms := []capture.Accuracy{{Range: 1000, OfReading: 100e-6, OfRange: 40e-6, Resolution: 1e-3}}
	return capture.InstrumentInfo{Name: "dmm", Channels: []capture.ChannelInfo{
		{ID: "dmm/volts", Quantity: capture.DCVoltage, Group: "input", Every: time.Second, Aperture: 20 * time.Millisecond, Accuracy: volts, FixRange: true},
		{ID: "dmm/ohms", Quantity: capture.Resistance, Group: "input", Every: time.Second, Accuracy: ohms},
	}}
}

func (m *plainMeter) Select(_ context.Context, ch capture.ChannelID) error {
	m.selected = append(m.selected, ch)
	return m.err
}

func (m *plainMeter) Measure(_ context.Context, ch capture.ChannelID) (capture.Reading, error) {
	r, ok := m.says[ch]
	if !ok {
		return r, fmt.Errorf("%w: %s", ErrNoChannel, ch)
	}
	r.Channel = ch
	return r, m.err
}

func volts(v float64, f capture.Flags) capture.Reading {
	return capture.Reading{Quantity: capture.DCVoltage, Value: v, Text: "x", Resolution: 1e-7, Range: 0.1, Flags: f}
}

func ohms(v float64, f capture.Flags) capture.Reading {
	return capture.Reading{Quantity: capture.Resistance, Value: v, Text: "x", Resolution: 1e-3, Range: 1000, Flags: f}
}

func fixed(celsius float64) *float64 { return &celsius }

func mustTransform(t *testing.T, m Instrument, latest Lookup, list ...Transform) Instrument {
	t.Helper()
	in, err := transformed(m, Config{Name: "dmm", Transforms: list, Latest: latest})
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// Table values: type K 100 °C against 25 °C is 3.096 mV (SRD 60), Pt100 at 100 °C
// is 138.51 Ω (IEC 60751), a 10 kΩ NTC of 3950 K has 10 kΩ at 25 °C.
func TestTransformsComputeTemperatures(t *testing.T) {
	m := &plainMeter{says: map[capture.ChannelID]capture.Reading{"dmm/volts": volts(3.096e-3, 0), "dmm/ohms": ohms(138.91, 0)}}
	in := mustTransform(t, m, nil,
		Transform{Name: "case", Of: "volts", Kind: "thermocouple-k", Cold: fixed(25), ColdWithin: 0.5, Tolerance: "1"},
		Transform{Name: "sink", Of: "ohms", Kind: "pt100", Leads: 0.4, Tolerance: "B"})
	for name, want := range map[string]float64{"case": 100, "sink": 100} {
		r, err := in.Measure(t.Context(), capture.ChannelID("dmm/"+name))
		if err != nil || r.Quantity != capture.Temperature || math.Abs(r.Value-want) > 0.03 || r.Flags != 0 || r.Text != "" || r.Channel != capture.ChannelID("dmm/"+name) {
			t.Errorf("%s: %+v %v", name, r, err)
		}
		ci := in.Info().Channels[slices.IndexFunc(in.Info().Channels, func(c capture.ChannelInfo) bool { return c.ID == r.Channel })]
		if ci.Quantity != capture.Temperature || ci.Group != "input" || ci.Every != time.Second || ci.FixRange {
			t.Errorf("%s is described as %+v", name, ci)
		}
		if !slices.ContainsFunc(ci.Accuracy, func(a capture.Accuracy) bool { return math.Abs(a.Range-r.Range) < 1e-9*r.Range }) {
			t.Errorf("%s: no statement for its range %g among %+v", name, r.Range, ci.Accuracy)
		}
	}
	// 0.1 µV at 41.4 µV/K, 1 mΩ at 0.379 Ω/K.
	tc, _ := in.Measure(t.Context(), "dmm/case")
	pt, _ := in.Measure(t.Context(), "dmm/sink")
	if math.Abs(tc.Resolution-2.42e-3) > 5e-5 || math.Abs(pt.Resolution-2.64e-3) > 5e-5 {
		t.Errorf("resolutions %g and %g", tc.Resolution, pt.Resolution)
	}
	if r, err := in.Measure(t.Context(), "dmm/volts"); err != nil || r.Value != 3.096e-3 || r.Text != "x" {
		t.Errorf("the channel itself: %+v %v", r, err)
	}
	if err := in.Select(t.Context(), "dmm/case"); err != nil || !slices.Equal(m.selected, []capture.ChannelID{"dmm/volts"}) {
		t.Errorf("selected %v, %v", m.selected, err)
	}
	if err := in.(capture.RangeFixer).FixRange(t.Context(), "dmm/case", 5); err == nil {
		t.Error("a range of kelvins was held")
	}
	m.err = ErrTimeout
	if _, err := in.Measure(t.Context(), "dmm/case"); !errors.Is(err, ErrTimeout) {
		t.Errorf("a silent meter: %v", err)
	}
}

func TestFlagsCarryOverAndTakeTheNumber(t *testing.T) {
	m := &plainMeter{says: map[capture.ChannelID]capture.Reading{}}
	in := mustTransform(t, m, nil, Transform{Name: "sink", Of: "ohms", Kind: "pt100"}, Transform{Name: "case", Of: "volts", Kind: "thermocouple-t", Cold: fixed(23)})
	for _, c := range []struct {
		of, ch  capture.ChannelID
		r       capture.Reading
		want    capture.Flags
		numbers bool
	}{
		{"dmm/ohms", "dmm/sink", ohms(0, capture.OverRange), capture.OverRange, false},                               // open, the meter says so
		{"dmm/ohms", "dmm/sink", ohms(5000, 0), capture.OverRange, false},                                            // open, with something across
		{"dmm/ohms", "dmm/sink", ohms(0.2, 0), capture.UnderRange, false},                                            // a short
		{"dmm/ohms", "dmm/sink", ohms(100, capture.LowBattery), capture.LowBattery, true},                            // doubtful, and said
		{"dmm/ohms", "dmm/sink", ohms(100, capture.Held), capture.Held, true},                                        //
		{"dmm/volts", "dmm/case", volts(0, capture.OverRange), capture.OverRange, false},                             // open
		{"dmm/volts", "dmm/case", volts(0.05, 0), capture.OverRange, false},                                          // no type T gives that
		{"dmm/volts", "dmm/case", volts(0, capture.NotANumber), capture.NotANumber, false},                           //
		{"dmm/volts", "dmm/case", volts(math.NaN(), 0), capture.NotANumber, false},                                   //
		{"dmm/volts", "dmm/case", volts(0, 0), 0, true},                                                              //
		{"dmm/volts", "dmm/case", volts(1, capture.Held|capture.OverRange), capture.Held | capture.OverRange, false}, //
	} {
		m.says[c.of] = c.r
		r, err := in.Measure(t.Context(), c.ch)
		if err != nil || r.Flags != c.want || r.HasValue() != c.numbers || !c.numbers && (r.Value != 0 || r.Resolution != 0) {
			t.Errorf("%+v became %+v %v, want flags %v", c.r, r, err, c.want)
		}
	}
}

func TestColdJunctionOfAnotherInstrument(t *testing.T) {
	m := &plainMeter{says: map[capture.ChannelID]capture.Reading{"dmm/volts": volts(3.096e-3, 0)}}
	cold := capture.Reading{Channel: "thermo/celsius", Quantity: capture.Temperature, Value: 25}
	age, there := time.Second, true
	latest := func(ch capture.ChannelID) (capture.Reading, time.Duration, bool) {
		if ch != "thermo/celsius" {
			t.Errorf("asked for %s", ch)
		}
		return cold, age, there
	}
	in := mustTransform(t, m, latest, Transform{Name: "case", Of: "volts", Kind: "thermocouple-k", ColdChannel: "thermo/celsius"})
	blind := mustTransform(t, m, nil, Transform{Name: "case", Of: "volts", Kind: "thermocouple-k", ColdChannel: "thermo/celsius"})
	read := func(in Instrument) capture.Reading {
		t.Helper()
		r, err := in.Measure(t.Context(), "dmm/case")
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	if r := read(in); math.Abs(r.Value-100) > 0.03 {
		t.Errorf("against a measured 25 °C: %+v", r)
	}
	cold.Flags = capture.LowBattery
	if r := read(in); r.Flags != capture.LowBattery || r.Good() || !r.HasValue() {
		t.Errorf("a cold junction that is in doubt: %+v", r)
	}
	cold.Flags = 0
	none := func(what string, r capture.Reading) {
		t.Helper()
		if r.Flags != capture.NotANumber || r.Value != 0 {
			t.Errorf("%s: %+v", what, r)
		}
	}
	none("nobody to ask", read(blind))
	age = DefaultColdAge + time.Millisecond
	none("too old", read(in))
	age, there = 0, false
	none("never read", read(in))
	there, cold.Flags = true, capture.TimedOut
	none("without a value", read(in))
	cold.Flags, cold.Quantity = 0, capture.DCVoltage
	none("no temperature", read(in))
	cold.Quantity, cold.Value = capture.Temperature, 300
	none("no terminals are so hot", read(in))
}

func TestTransformsThatMakeNoSense(t *testing.T) {
	good := Transform{Name: "case", Of: "volts", Kind: "thermocouple-k", Cold: fixed(23)}
	with := func(f func(*Transform)) Transform { t := good; f(&t); return t }
	for want, tr := range map[string]Transform{
		"small letters":           with(func(t *Transform) { t.Name = "Case" }),
		"already":                 with(func(t *Transform) { t.Name = "ohms" }),
		"the instrument has volt": with(func(t *Transform) { t.Of = "amps" }),
		"dc_voltage, and ohms":    with(func(t *Transform) { t.Of = "ohms" }),
		"no sensor":               with(func(t *Transform) { t.Kind = "thermocouple-x" }),
		"cold_junction is miss":   with(func(t *Transform) { t.Cold = nil }),
		"no temperature of term":  with(func(t *Transform) { t.Cold = fixed(900) }),
		"a pt100 has none":        with(func(t *Transform) { t.Kind, t.Of = "pt100", "ohms" }),
		"an ntc needs":            {Name: "air", Of: "ohms", Kind: "ntc", R25: 10000},
		"no class of a":           with(func(t *Transform) { t.Tolerance = "4" }),
	} {
		_, err := transformed(&plainMeter{}, Config{Name: "dmm", Transforms: []Transform{tr}})
		if !errors.Is(err, ErrConfig) || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v, want %q", tr, err, want)
		}
	}
	two := []Transform{good, good}
	if _, err := transformed(&plainMeter{}, Config{Name: "dmm", Transforms: two}); err == nil {
		t.Error("two of one name")
	}
	models := shipped(t)
	cfg := Config{Name: "dmm", Model: "scpi-multimeter", Link: "tcp:127.0.0.1:5025", Transforms: []Transform{good}}
	if err := Check(cfg, models); err != nil {
		t.Errorf("a right one: %v", err)
	}
	cfg.Transforms[0].Of = "celsius"
	if err := Check(cfg, models); !errors.Is(err, ErrConfig) {
		t.Errorf("Check lets a wrong source pass: %v", err)
	}
}
