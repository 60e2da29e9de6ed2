package scpi

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// withGuardSwitch gives the supply of the tests an over-current protection with a
// switch.
func withGuardSwitch(o *Options) {
	out := &o.Plan.Outputs[0]
	out.Limits = append(append([]Limit(nil), out.Limits...), Limit{
		Name: "over-current", Unit: capture.Ampere, Set: "CURR:PROT {}", Ask: "CURR:PROT?", Step: 0.01, Max: 5.5,
		State: &State{On: "CURR:PROT:STAT ON", Ask: "CURR:PROT:STAT?"},
	})
}

const (
	levelTold = `
		> CURR:PROT?
		< 5.500
		> CURR:PROT 2
		> CURR:PROT?
		< 2.000
		> SYST:ERR?
		< 0,"No error"
		> CURR:PROT:STAT ON
		> SYST:ERR?`
	noError = "\n< 0,\"No error\""
	more    = "\n> SYST:ERR?"
)

// The switch of a protection is set after its level and read back. One that the
// instrument does not know leaves a level; one that stays off is an error.
func TestGuardIsSwitchedOn(t *testing.T) {
	for _, c := range []struct {
		name, rows, said string
		err              error
		says             string
	}{
		{"on", noError + "\n> CURR:PROT:STAT?\n< 1", "over-current 2.00 A (on), read back", nil, ""},
		{"stays off", noError + "\n> CURR:PROT:STAT?\n< 0" + more + noError, "", ErrRefused, "its over-current protection reads back as off"},
		{"no such switch", "\n< -113,\"Undefined header\"" + more + noError, "over-current 2.00 A (state not confirmed), read back", nil, ""},
		{"no such switch, the class alone", "\n< -100,\"Command error\"" + more + noError, "over-current 2.00 A (state not confirmed), read back", nil, ""},
		{"not now", "\n< -221,\"Settings conflict\"" + more + noError, "", ErrRefused, "-221 Settings conflict"},
		{"nonsense", noError + "\n> CURR:PROT:STAT?\n< maybe", "", ErrMalformed, "CURR:PROT:STAT?"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, p := played(t, hello+levelTold+c.rows, withGuardSwitch)
			if err := d.Connect(t.Context()); err != nil {
				t.Fatal(err)
			}
			said, err := d.Do(t.Context(), limits("over-current 2"))
			if c.err != nil {
				wants(t, err, c.err, c.says)
			} else if err != nil || said != c.said {
				t.Errorf("got %q, %v", said, err)
			}
			used(t, p)
		})
	}
}

// Reading back asks for the state where it was confirmed before, and only there:
// an instrument that does not know the query answers with silence.
func TestGuardIsReadBack(t *testing.T) {
	held := "> OUTP?\n< 1\n> CURR:PROT?\n< 2.000"
	for _, c := range []struct{ text, rows, said, says string }{
		{"over-current 2 (on)", "\n> CURR:PROT:STAT?\n< 1", "output on, over-current 2.00 A (on)", ""},
		{"over-current 2 (on)", "\n> CURR:PROT:STAT?\n< 0" + more + noError, "", "reads back as off"},
		{"over-current 2", "", "output on, over-current 2.00 A (state not confirmed)", ""},
		{"over-current 2 (state not confirmed)", "", "output on, over-current 2.00 A (state not confirmed)", ""},
	} {
		d, p := played(t, hello+held+c.rows, withGuardSwitch)
		if err := d.Connect(t.Context()); err != nil {
			t.Fatal(err)
		}
		said, err := d.Do(t.Context(), capture.Act{Verb: capture.ActReadBack, Text: c.text})
		if said != c.said || (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %q, %v", c.text, said, err)
		}
		used(t, p)
	}
	d, _ := played(t, hello, withGuardSwitch)
	if err := d.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	_, err := d.Do(t.Context(), limits("over-current 2 (on)"))
	wants(t, err, ErrNotAllowed, "want a number") // nobody claims a state by writing it
}
