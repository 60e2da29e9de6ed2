package drivers

import (
	"errors"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// Reading back changes nothing: it answers how the output is, and whether the
// limits are as they should be. What differs by more than a step is refused.
func TestReadBack(t *testing.T) {
	b, all := simulated(t, true)
	in := all[sim.Supply]
	does(t, in, capture.ActLimits, sim.Supply, "volts 24, amperes 1, over-voltage 26, over-current 1.5", "volts 24.000 V, amperes 1.000 A, over-voltage 26.00 V (on), over-current 1.50 A (on), read back")
	for text, want := range map[string]string{
		"": "output off",
		"over-voltage 26 (on), over-current 1.5 (on)": "output off, over-voltage 26.00 V (on), over-current 1.50 A (on)",
		"over-voltage 26.01, amperes 1.0009":          "output off, over-voltage 26.00 V (state not confirmed), amperes 1.000 A",
	} {
		does(t, in, capture.ActReadBack, sim.Supply, text, want)
	}
	for text, want := range map[string]error{
		"over-voltage 26.5": ErrRefused, "volts 23.9": ErrRefused, "over-speed 3": ErrNotAllowed, "volts many": ErrNotAllowed,
	} {
		if said, err := in.Do(t.Context(), capture.Act{Verb: capture.ActReadBack, Subject: sim.Supply, Text: text}); !errors.Is(err, want) {
			t.Errorf("%s: %q, %v", text, said, err)
		}
	}
	does(t, in, capture.ActOutput, sim.Supply, "on", "output on, read back")
	does(t, in, capture.ActReadBack, sim.Supply, "volts 24", "output on, volts 24.000 V")
	if _, err := all[sim.DMM].Do(t.Context(), capture.Act{Verb: capture.ActReadBack, Subject: sim.DMM}); !errors.Is(err, ErrNotAllowed) {
		t.Errorf("of a meter: %v", err)
	}
	if n := b.Resets(); n != 0 {
		t.Errorf("*RST was sent %d times", n)
	}
}

// A trip needs an output to switch off and phrases for both protections.
func TestMayTrip(t *testing.T) {
	models := shipped(t)
	bare := models["scpi-supply"]
	bare.Plan.Outputs = append(bare.Plan.Outputs[:0:0], bare.Plan.Outputs...)
	bare.Plan.Outputs[0].Limits = bare.Plan.Outputs[0].Limits[:3]
	models["bare"] = bare
	for _, c := range []struct{ model, output, says string }{
		{"scpi-supply", "", ""}, {"scpi-supply", "1", "leave out"}, {"scpi-supply-2", "1", ""}, {"scpi-supply-2", "", "1, 2"}, {"scpi-supply-2", "3", "1, 2"},
		{"modbus-supply", "", ""}, {"modbus-supply", "1", "leave out"}, {"scpi-multimeter", "", "no output"}, {"scpi-load", "", "no output"},
		{"modbus-meter", "", "no output"}, {"bare", "", "no phrases for over-voltage and over-current"},
	} {
		err := models[c.model].MayTrip(c.output)
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s/%s: %v", c.model, c.output, err)
		}
	}
}
