package scpi

import (
	"testing"

	"steadyrail/capture"
)

// pair is a supply with two outputs that are chosen before they are meant.
func pair(o *Options) {
	one := func(n string) Output {
		return Output{
			Name: n, Verb: capture.ActOutput, Choose: "INST:NSEL " + n, Chosen: Chosen{Ask: "INST:NSEL?", Answer: n},
			On: "OUTP ON", Off: "OUTP OFF", Ask: "OUTP?",
			Limits: []Limit{{Name: "volts", Unit: capture.Volt, Set: "VOLT {}", Ask: "VOLT?", Step: 0.001, Max: 32}},
		}
	}
	o.Plan = Plan{
		Channels: []Channel{
			{Name: "volts-1", Quantity: capture.DCVoltage, Output: "1", Read: "MEAS:VOLT?", ReadBack: true},
			{Name: "volts-2", Quantity: capture.DCVoltage, Output: "2", Read: "MEAS:VOLT?", ReadBack: true},
		},
		Outputs: []Output{one("1"), one("2")},
	}
}

const helloPair = `
	~
	> *IDN?
	< ` + someone + `
	> *CLS
	> SYST:ERR?
	< 0,"No error"
`

func choosing(n string) string { return "> INST:NSEL " + n + "\n> INST:NSEL?\n< " + n + "\n" }

func on(subject, text string) capture.Act {
	return capture.Act{Verb: capture.ActOutput, Subject: subject, Text: text}
}

func TestSeveralOutputs(t *testing.T) {
	for _, c := range []struct {
		name string
		act  capture.Act
		rows string
		said string
		err  error
		says string
	}{
		{"one on", on("unit/2", "on"), choosing("2") + "> OUTP ON\n> OUTP?\n< 1", "output 2 on, read back", nil, ""},
		{"one off", on("unit/1", "off"), choosing("1") + "> OUTP OFF\n> OUTP?\n< 0", "output 1 off, read back", nil, ""},
		{"all off", on("unit", "off"), choosing("1") + "> OUTP OFF\n> OUTP?\n< 0\n" + choosing("2") + "> OUTP OFF\n> OUTP?\n< 0", "output 1 off, read back, output 2 off, read back", nil, ""},
		{"one that does not go off stops no other", on("unit", "off"), choosing("1") + "> OUTP OFF\n> OUTP?\n< 1" + taken + choosing("2") + "> OUTP OFF\n> OUTP?\n< 0", "", ErrRefused, "the output 1 reads back as on"},
		{"on, without saying which", on("unit", "on"), "", "", ErrNotAllowed, "say which output: unit/1, unit/2"},
		{"one that there is not", on("unit/3", "off"), "", "", ErrNotAllowed, "say which output: unit/1, unit/2"},
		{"another one is chosen: nothing is switched", on("unit/2", "on"), "> INST:NSEL 2\n> INST:NSEL?\n< 1" + taken, "", ErrRefused, `output 2 was chosen, it says "1"`},
		{"limits", capture.Act{Verb: capture.ActLimits, Subject: "unit/2", Text: "volts 5"}, choosing("2") + "> VOLT 5\n> VOLT?\n< 5.000", "output 2: volts 5.000 V, read back", nil, ""},
		{"limits, without saying which", capture.Act{Verb: capture.ActLimits, Subject: "unit", Text: "volts 5"}, "", "", ErrNotAllowed, "say which output"},
		{"a supply has no input", capture.Act{Verb: capture.ActInput, Subject: "unit/1", Text: "on"}, "", "", ErrNotAllowed, "it has no input to switch"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, p := played(t, helloPair+c.rows, pair, func(o *Options) { o.Info.Acts = []string{"output", "limits", "input"} })
			if err := d.Connect(t.Context()); err != nil {
				t.Fatal(err)
			}
			said, err := d.Do(t.Context(), c.act)
			if c.err != nil {
				wants(t, err, c.err, c.says)
			} else if err != nil || said != c.said {
				t.Fatalf("%q, %v", said, err)
			}
			used(t, p)
		})
	}
}

// TestOutputIsChosenForEachReading: somebody at the panel may choose another one
// between two readings.
func TestOutputIsChosenForEachReading(t *testing.T) {
	d, p := played(t, helloPair+choosing("2")+"> MEAS:VOLT?\n< 12.00\n"+choosing("2")+"> MEAS:VOLT?\n< 12.00\n> INST:NSEL 2\n> INST:NSEL?\n< 1"+taken, pair)
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	if got := d.Info().Outputs; len(got) != 2 || got[0] != "1" || got[1] != "2" {
		t.Fatalf("outputs %v", got)
	}
	for range 2 {
		if r, err := d.Measure(ctx, "unit/volts-2"); err != nil || r.Value != 12 {
			t.Fatalf("%+v, %v", r, err)
		}
	}
	_, err := d.Measure(ctx, "unit/volts-2")
	wants(t, err, ErrRefused, "output 2 was chosen")
	used(t, p)
}

// TestCloseSwitchesAllOff at the end, when the configuration says so.
func TestCloseSwitchesAllOff(t *testing.T) {
	d, p := played(t, helloPair+choosing("1")+"> OUTP OFF\n> OUTP?\n< 0\n"+choosing("2")+"> OUTP OFF\n> OUTP?\n< 0", pair, func(o *Options) { o.OffExit = true })
	if err := d.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	used(t, p)
}

// TestLoad: its input is made ready before it goes on, and not when that was
// refused.
func TestLoad(t *testing.T) {
	load := func(o *Options) {
		o.Info.Acts = []string{"input"}
		o.Plan = Plan{
			Channels: []Channel{{Name: "amperes", Quantity: capture.DCCurrent, Read: "MEAS:CURR?"}},
			Outputs:  []Output{{Verb: capture.ActInput, Ready: []string{"FUNC CURR"}, On: "INP ON", Off: "INP OFF", Ask: "INP?"}},
		}
	}
	in := func(text string) capture.Act { return capture.Act{Verb: capture.ActInput, Subject: "unit", Text: text} }
	d, p := played(t, helloPair+"> FUNC CURR"+taken+"> INP ON\n> INP?\n< 1\n> INP OFF\n> INP?\n< 0\n> FUNC CURR\n> SYST:ERR?\n< -221,\"Settings conflict\""+taken, load)
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ text, said string }{{"on", "input on, read back"}, {"off", "input off, read back"}} {
		if said, err := d.Do(ctx, in(c.text)); err != nil || said != c.said {
			t.Fatalf("%q, %v", said, err)
		}
	}
	_, err := d.Do(ctx, in("on"))
	wants(t, err, ErrRefused, "make ready: refused by the instrument: -221")
	_, err = d.Do(ctx, on("unit", "on"))
	wants(t, err, ErrNotAllowed, "its model has no output, only input")
	used(t, p)
}
