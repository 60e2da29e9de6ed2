package scpi

import (
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/drivers/wire"
)

func output(state string) capture.Act { return capture.Act{Verb: capture.ActOutput, Text: state} }
func limits(text string) capture.Act  { return capture.Act{Verb: capture.ActLimits, Text: text} }

func TestActs(t *testing.T) {
	for _, c := range []struct {
		name string
		act  capture.Act
		rows string
		said string
		err  error
		says string
	}{
		{"on", output("on"), "> OUTP ON\n> OUTP?\n< 1", "output on, read back", nil, ""},
		{"off, in words", output("off"), "> OUTP OFF\n> OUTP?\n< OFF", "output off, read back", nil, ""},
		{"not confirmed, with the reason", output("on"), `
			> OUTP ON
			> OUTP?
			< 0
			> SYST:ERR?
			< -221,"Settings conflict"
			> SYST:ERR?
			< 0,"No error"`, "", ErrRefused, "reads back as off: refused by the instrument: -221 Settings conflict"},
		{"not confirmed, without a reason", output("off"), "> OUTP OFF\n> OUTP?\n< 1\n> SYST:ERR?\n< 0,\"No error\"", "", ErrRefused, "reads back as on"},
		{"confirmed by nonsense", output("off"), "> OUTP OFF\n> OUTP?\n< 5.012", "", ErrMalformed, "OUTP?"},
		{"neither on nor off", output("maybe"), "", "", ErrNotAllowed, "maybe"},
		{"set-point under the protection in force", limits("over-voltage 6, volts 5"), `
			> VOLT:PROT?
			< 35.000
			> VOLT 5
			> VOLT?
			< 5.000
			> VOLT:PROT 6
			> VOLT:PROT?
			< 6.000`, "volts 5.000 V, over-voltage 6.00 V (state not confirmed), read back", nil, ""},
		{"set-point above the protection in force", limits("volts 12, over-voltage 14"), `
			> VOLT:PROT?
			< 6.000
			> VOLT:PROT 14
			> VOLT:PROT?
			< 14.000
			> VOLT 12
			> VOLT?
			< 12.000`, "over-voltage 14.00 V (state not confirmed), volts 12.000 V, read back", nil, ""},
		{"within a step", limits("volts 3.3"), "> VOLT 3.3\n> VOLT?\n< 3.2995", "volts 3.300 V, read back", nil, ""},
		{"set to something else", limits("volts 3.3"), "> VOLT 3.3\n> VOLT?\n< 3.000\n> SYST:ERR?\n< 0,\"No error\"", "", ErrRefused, "reads back as volts 3.000"},
		{"more than it can", limits("volts 33"), "", "", ErrNotAllowed, "from 0 to 32 V"},
		{"below nothing", limits("volts -5"), "", "", ErrNotAllowed, "volts"},
		{"no number", limits("volts NaN"), "", "", ErrNotAllowed, "volts"},
		{"infinite", limits("volts Inf"), "", "", ErrNotAllowed, "volts"},
		{"twice", limits("volts 5, volts 6"), "", "", ErrNotAllowed, "twice"},
		{"no such limit", limits("watts 5"), "", "", ErrNotAllowed, "use volts, over-voltage"},
		{"all is checked before anything is sent", limits("volts 5, over-voltage 99"), "", "", ErrNotAllowed, "99"},
		{"another act", capture.Act{Verb: capture.ActTurn}, "", "", ErrNotAllowed, "its model has no turn"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, p := played(t, hello+c.rows)
			if err := d.Connect(t.Context()); err != nil {
				t.Fatal(err)
			}
			said, err := d.Do(t.Context(), c.act)
			if c.err != nil {
				wants(t, err, c.err, c.says)
			} else if err != nil || said != c.said {
				t.Fatalf("got %q, %v", said, err)
			}
			used(t, p)
		})
	}
}

func TestActsNotAllowed(t *testing.T) {
	d, p := played(t, hello, func(o *Options) { o.Info.Acts = []string{"limits"} })
	if err := d.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	_, err := d.Do(t.Context(), output("off"))
	wants(t, err, ErrNotAllowed, `add "output"`)
	used(t, p)
}

// TestOffInDoubt: off is sent before anything else; only then the driver finds
// its place again and asks whether it worked.
func TestOffInDoubt(t *testing.T) {
	d, p := played(t, hello+selectVolts+"> READ?\n! timed out\n> OUTP OFF"+awake+"> OUTP?\n< 0")
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	_, err := d.Measure(ctx, "unit/volts")
	wants(t, err, wire.ErrTimeout, "")
	if said, err := d.Do(ctx, output("off")); err != nil || said != "output off, read back" {
		t.Fatalf("%q, %v", said, err)
	}
	used(t, p)
}

// TestOnInDoubt: on waits until it is certain who is there.
func TestOnInDoubt(t *testing.T) {
	other := strings.ReplaceAll(again, "00123457", "00123458")
	d, p := played(t, hello+selectVolts+"> READ?\n! timed out"+other[:strings.Index(other, "> SYST")])
	ctx := t.Context()
	if err := d.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	_, _ = d.Measure(ctx, "unit/volts")
	_, err := d.Do(ctx, output("on"))
	wants(t, err, ErrMismatch, "00123458")
	used(t, p)
}

// TestClose: the output is touched at the end only if the configuration says
// so, and never when the link is merely dropped.
func TestClose(t *testing.T) {
	off := func(o *Options) { o.OffExit = true }
	for _, c := range []struct {
		name, rows string
		change     func(*Options)
		end        func(*Driver) error
	}{
		{"leave", hello, func(*Options) {}, (*Driver).Close},
		{"off", hello + "> OUTP OFF\n> OUTP?\n< 0", off, (*Driver).Close},
		{"dropped", hello, off, (*Driver).Drop},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, p := played(t, c.rows, c.change)
			if err := d.Connect(t.Context()); err != nil {
				t.Fatal(err)
			}
			for range 2 { // twice is harmless
				if err := c.end(d); err != nil {
					t.Fatal(err)
				}
			}
			used(t, p)
		})
	}
	d, p := played(t, hello+"> OUTP OFF\n> OUTP?\n< 1\n> SYST:ERR?\n< 0,\"No error\"", off)
	if err := d.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	wants(t, d.Close(), ErrRefused, "reads back as on")
	used(t, p)
}

// TestForbiddenPhrases: no spelling of a reset gets through, and ordinary
// phrases do.
func TestForbiddenPhrases(t *testing.T) {
	for _, bad := range []string{
		"*RST", "*rst", " *RST", "*CLS;*RST", "*RST;*CLS", "*CLS; *RST", "CONF:VOLT;*rst;READ?", "*RCL 0", "*SAV 1", "*TST?",
		"SYST:PRES", "SYSTEM:PRESET", ":SYST:PRES", "syst:pos RST", "MEM:STAT:REC 1", "CAL:ALL?", "CALIBRATION",
	} {
		if CheckPhrase(bad) == nil {
			t.Errorf("%q was let through", bad)
		}
		p := plan()
		p.SetUp = []string{bad}
		if _, err := New(Options{Plan: p}); err == nil {
			t.Errorf("a plan with %q was taken", bad)
		}
	}
	for _, good := range []string{"*CLS", "*IDN?", "READ?", "STAT:PRES", "CONF:VOLT:DC AUTO", "CALC:STAT ON", "TRIG:SOUR IMM", "VOLT 5", "OUTP OFF"} {
		if err := CheckPhrase(good); err != nil {
			t.Error(err)
		}
	}
	for _, bad := range []string{"OUTP ON", "OUTPUT OFF", "APPL 5,1", "VOLT 5", "SOUR:VOLT 5", "CURR:LEV 1", "*CLS;VOLT 5", "READ?"} {
		if CheckQuiet(bad) == nil {
			t.Errorf("%q would be sent on connecting", bad)
		}
	}
	for _, good := range []string{"CONF:VOLT 10", "VOLT:DC:NPLC 1", "VOLT:RANG 10", "INP:IMP:AUTO OFF", "SENS:CURR:RANG 3", "SYST:REM", "TRIG:SOUR IMM"} {
		if err := CheckQuiet(good); err != nil {
			t.Error(err)
		}
	}
	for _, bad := range []string{"READ", "READ?;READ?", "*RST;READ?"} {
		if CheckQuery(bad) == nil {
			t.Errorf("%q is no query", bad)
		}
	}
}

// TestSendRefuses: even past New, the last gate holds.
func TestSendRefuses(t *testing.T) {
	d, p := played(t, hello)
	if err := d.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	wants(t, d.send(t.Context(), "*RST"), ErrNotAllowed, "*RST")
	used(t, p)
}
