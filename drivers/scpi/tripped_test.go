package scpi

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

func withTrippedQueries(o *Options) {
	withGuardSwitch(o)
	limits := o.Plan.Outputs[0].Limits
	limits[1].Tripped, limits[2].Tripped = "VOLT:PROT:TRIP?", "CURR:PROT:TRIP?"
}

// What has tripped is asked of an output that is off, and of no other. A query that
// is not answered costs one wait, and the rest goes on.
func TestWhatTripped(t *testing.T) {
	ask := capture.Act{Verb: capture.ActReadBack}
	for _, c := range []struct{ name, rows, first, second string }{
		{"on", "> OUTP?\n< 1\n> OUTP?\n< 1", "output on", "output on"},
		{"off, none", "> OUTP?\n< 0\n> VOLT:PROT:TRIP?\n< 0\n> CURR:PROT:TRIP?\n< 0\n> OUTP?\n< 1", "output off", "output on"},
		{"one", "> OUTP?\n< 0\n> VOLT:PROT:TRIP?\n< 0\n> CURR:PROT:TRIP?\n< 1\n> OUTP?\n< 1", "output off, tripped: over-current", "output on"},
		{"both", "> OUTP?\n< 0\n> VOLT:PROT:TRIP?\n< 1\n> CURR:PROT:TRIP?\n< 1\n> OUTP?\n< 1", "output off, tripped: over-voltage and over-current", "output on"},
		{"one query is not known", "> OUTP?\n< 0\n> VOLT:PROT:TRIP?\n! timed out" + awake + "> CURR:PROT:TRIP?\n< 1\n> OUTP?\n< 0\n> CURR:PROT:TRIP?\n< 1",
			"output off, tripped: over-current", "output off, tripped: over-current"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, p := played(t, hello+c.rows, withTrippedQueries)
			if err := d.Connect(t.Context()); err != nil {
				t.Fatal(err)
			}
			for _, want := range []string{c.first, c.second} {
				if said, err := d.Do(t.Context(), ask); err != nil || said != want {
					t.Errorf("%q, %v, want %q", said, err, want)
				}
			}
			used(t, p)
		})
	}
}

// A supply that was lost while it was asked may well know the query: it is asked
// again when it is back.
func TestWhatTrippedIsAskedAgainOfASupplyThatWasLost(t *testing.T) {
	ask := capture.Act{Verb: capture.ActReadBack}
	d, p := played(t, hello+"> OUTP?\n< 0\n> VOLT:PROT:TRIP?\n! timed out"+strings.Repeat("\n~\n> *IDN?\n! timed out", attempts)+
		awake+"> OUTP?\n< 0\n> VOLT:PROT:TRIP?\n< 1\n> CURR:PROT:TRIP?\n< 0", withTrippedQueries)
	if err := d.Connect(t.Context()); err != nil {
		t.Fatal(err)
	}
	if said, err := d.Do(t.Context(), ask); err == nil {
		t.Errorf("%q of a supply that is lost", said)
	}
	if said, err := d.Do(t.Context(), ask); err != nil || said != "output off, tripped: over-voltage" {
		t.Errorf("%q, %v", said, err)
	}
	used(t, p)
}
