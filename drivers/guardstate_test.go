package drivers

import (
	"errors"
	"os"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// The supply of the simulated bench with its over-current protection off, one
// that keeps it off, and one that knows no switch of it. What is said of each is
// what the supply does under an overload.
func TestGuardStateOfTheSimulatedSupply(t *testing.T) {
	limits := capture.Act{Verb: capture.ActLimits, Subject: sim.Supply, Text: "volts 24, amperes 1, over-voltage 26, over-current 1.5"}
	for _, c := range []struct {
		fault, said string
		err         error
		on          bool
	}{
		{"", "over-voltage 26.00 V (on), over-current 1.50 A (on), read back", nil, true},
		{"guard stays off", "its over-current protection reads back as off", ErrRefused, false},
		{"no guard switch", "over-voltage 26.00 V (state not confirmed), over-current 1.50 A (state not confirmed), read back", nil, false},
	} {
		b, all := simulated(t, true)
		b.SetPanel(sim.Panel{OverVolts: 35, OverAmps: 5.5, Amps: 0.1})
		if c.fault != "" {
			if err := b.Fault(c.fault); err != nil {
				t.Fatal(err)
			}
		}
		said, err := all[sim.Supply].Do(t.Context(), limits)
		if err != nil {
			said = err.Error()
		}
		if !errors.Is(err, c.err) || !strings.Contains(said, c.said) {
			t.Errorf("%s: %q", c.fault, said)
		}
		if on := b.Standing().Panel.AmpsGuard; on != c.on {
			t.Errorf("%s: the over-current protection is on: %v", c.fault, on)
		}
	}
}

// A supply whose over-current protection has tripped says which, and only of an
// output that is off.
func TestTheSimulatedSupplyNamesWhatTripped(t *testing.T) {
	b, all := simulated(t, true)
	does(t, all[sim.Supply], capture.ActLimits, sim.Supply, "volts 24, amperes 1.5, over-voltage 26, over-current 0.05",
		"volts 24.000 V, amperes 1.500 A, over-voltage 26.00 V (on), over-current 0.05 A (on), read back")
	does(t, all[sim.Supply], capture.ActReadBack, sim.Supply, "", "output off")
	p := b.Standing().Panel
	p.AmpsTrip = true
	b.SetPanel(p)
	does(t, all[sim.Supply], capture.ActReadBack, sim.Supply, "", "output off, tripped: over-current")
	_, err := all[sim.Supply].Do(t.Context(), capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "on"})
	if !errors.Is(err, ErrRefused) || !strings.Contains(err.Error(), "-221") {
		t.Errorf("switched on after a trip: %v", err)
	}
}

// A model says how its protections come to act, or nothing is claimed of them.
func TestGuardStateOfModels(t *testing.T) {
	text, err := os.ReadFile("models/scpi-supply.yaml")
	if err != nil {
		t.Fatal(err)
	}
	good := string(text)
	for old, bad := range map[string]string{
		`max: 32}`: `max: 32, state: always}`,
		`, state: {on: "CURR:PROT:STAT ON", ask: "CURR:PROT:STAT?"}`: `, state: sometimes`,
		`ask: "CURR:PROT:STAT?"}`:                                    `ask: "CURR:PROT:STAT"}`,
		`{on: "CURR:PROT:STAT ON", `:                                 `{on: "*RST", `,
	} {
		changed := strings.Replace(good, old, bad, 1)
		if changed == good {
			t.Errorf("%s is not in the model", old)
		}
		if _, err := ParseModel("bad", "bad.yaml", []byte(changed)); err == nil {
			t.Errorf("%s was taken", bad)
		}
	}
}
