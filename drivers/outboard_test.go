package drivers

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// host is a bench in real time whose own instruments are not served: further
// ones hang on its clock.
func host(t *testing.T) *sim.Bench {
	t.Helper()
	b := sim.NewBench(sim.NewClock(capture.Instant(1_700_000_000_000_000), 1), 1, sim.Scenario{})
	t.Cleanup(b.Close)
	return b
}

func connected(t *testing.T, models Models, cfg Config) Instrument {
	t.Helper()
	in, err := Open(cfg, models)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = in.Close() })
	if err := in.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	return in
}

func does(t *testing.T, in Instrument, verb capture.Verb, subject, text, want string) {
	t.Helper()
	said, err := in.Do(t.Context(), capture.Act{Verb: verb, Subject: subject, Text: text})
	if err != nil || said != want {
		t.Fatalf("%s %s %s: %q, %v", verb, subject, text, said, err)
	}
}

// byList is the shipped model with channel lists in the phrases instead of a
// choice before them.
func byList(t *testing.T) Models {
	t.Helper()
	text, err := builtin.ReadFile("models/scpi-supply-2.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var rows []string
	list := ""
	for _, row := range strings.Split(string(text), "\n") {
		switch trimmed := strings.TrimSpace(row); {
		case strings.HasPrefix(trimmed, "choose:"), strings.HasPrefix(trimmed, "chosen:"), strings.HasPrefix(trimmed, "limiting:"):
			continue
		case strings.HasPrefix(trimmed, `output: "`), strings.HasPrefix(trimmed, `- name: "`):
			list = "(@" + strings.Trim(trimmed[strings.Index(trimmed, `"`):], `"`) + ")"
		}
		for _, phrase := range []string{"MEAS:VOLT?", "MEAS:CURR?", "OUTP?", "VOLT?", "CURR?", "VOLT:PROT?", "CURR:PROT?"} {
			row = strings.ReplaceAll(row, `"`+phrase+`"`, `"`+phrase+" "+list+`"`)
		}
		for _, phrase := range []string{"OUTP ON", "OUTP OFF", "VOLT {}", "CURR {}", "VOLT:PROT {}", "CURR:PROT {}"} {
			row = strings.ReplaceAll(row, `"`+phrase+`"`, `"`+phrase+","+list+`"`)
		}
		rows = append(rows, row)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "scpi-supply-2.yaml"), []byte(strings.Join(rows, "\n")), 0o600); err != nil {
		t.Fatal(err)
	}
	models, err := LoadModels(dir)
	if err != nil {
		t.Fatal(err)
	}
	return models
}

// TestSupplyWithTwoOutputs: each is switched, limited and read under its own
// name, by choice and by channel list, and a hand at the panel changes nothing.
func TestSupplyWithTwoOutputs(t *testing.T) {
	for name, models := range map[string]Models{"chosen": shipped(t), "by list": byList(t)} {
		t.Run(name, func(t *testing.T) {
			far, err := sim.NewSupply2(host(t))
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(far.Close)
			in := connected(t, models, Config{Name: "psu", Model: "scpi-supply-2", Link: far.Link(), Acts: []string{"output", "limits"}, OnExit: ExitOff})
			does(t, in, capture.ActLimits, "psu/1", "volts 5, amperes 1", "output 1: volts 5.000 V, amperes 1.000 A, read back")
			does(t, in, capture.ActLimits, "psu/2", "volts 12, amperes 0.25", "output 2: volts 12.000 V, amperes 0.250 A, read back")
			does(t, in, capture.ActOutput, "psu/2", "on", "output 2 on, read back")
			if on, _ := far.On(1); on {
				t.Fatal("output 1 went on")
			}
			does(t, in, capture.ActOutput, "psu/1", "on", "output 1 on, read back")
			far.Choose(1) // a hand at the panel
			near(t, "12 V over 24 ohm, limited to 0.25 A", measure(t, in, "volts-2"), 6, 0.01)
			near(t, "and its current", measure(t, in, "amperes-2"), 0.25, 0.001)
			far.Choose(2)
			near(t, "5 V", measure(t, in, "volts-1"), 5, 0.01)
			if name == "chosen" {
				if r := measure(t, in, "volts-2"); !r.Flags.Has(capture.Limiting) {
					t.Errorf("output 2 limits, and does not say so: %+v", r)
				}
				if r := measure(t, in, "volts-1"); r.Flags.Has(capture.Limiting) {
					t.Errorf("output 1 does not limit: %+v", r)
				}
			}
			if _, err := in.Do(t.Context(), capture.Act{Verb: capture.ActOutput, Subject: "psu", Text: "on"}); !errors.Is(err, ErrNotAllowed) {
				t.Errorf("on without saying which: %v", err)
			}
			if err := in.Close(); err != nil {
				t.Error(err)
			}
			for n := 1; n <= 2; n++ {
				if on, v := far.On(n); on || v != 0 {
					t.Errorf("output %d is on at the end: %v V", n, v)
				}
			}
			if far.Resets() != 0 {
				t.Error("it was reset")
			}
		})
	}
}

// TestLoad draws a set current, and only after its input was switched on.
func TestLoad(t *testing.T) {
	far, err := sim.NewELoad(host(t))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(far.Close)
	in := connected(t, shipped(t), Config{Name: "load", Model: "scpi-load", Link: far.Link(), Acts: []string{"input", "limits"}, OnExit: ExitOff})
	does(t, in, capture.ActLimits, "load", "amperes 2.5", "amperes 2.500 A, read back")
	if far.Draws() != 0 {
		t.Fatal("it draws current before its input is on")
	}
	does(t, in, capture.ActInput, "load", "on", "input on, read back")
	near(t, "amperes", measure(t, in, "amperes"), 2.5, 0.001)
	near(t, "volts", measure(t, in, "volts"), 11.75, 0.001)
	if err := in.Close(); err != nil {
		t.Error(err)
	}
	if far.Draws() != 0 {
		t.Error("it still draws current at the end")
	}
}

// TestLoadReadOnly: without the act in the configuration nothing is sent.
func TestLoadReadOnly(t *testing.T) {
	far, err := sim.NewELoad(host(t))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(far.Close)
	in := connected(t, shipped(t), Config{Name: "load", Model: "scpi-load", Link: far.Link()})
	if _, err := in.Do(t.Context(), capture.Act{Verb: capture.ActInput, Subject: "load", Text: "on"}); !errors.Is(err, ErrNotAllowed) || far.Draws() != 0 {
		t.Errorf("got %v", err)
	}
	if err := Check(Config{Name: "load", Model: "scpi-load", Link: far.Link(), Acts: []string{"input"}}, shipped(t)); err == nil || !strings.Contains(err.Error(), "on_exit is missing") {
		t.Errorf("got %v", err)
	}
}
