package earth_test

import (
	"slices"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/rules/earth"
)

// Two boards: what stands on the one counts for a lead that goes on the other.
func TestBeyond(t *testing.T) {
	here, there := piano(), piano()
	there.Rails = append(there.Rails, capture.Rail{Name: "+24 V", Nominal: 24, Return: "GND"})
	for name, c := range map[string]struct {
		there []capture.Placement
		next  capture.Placement
		want  string // "": it may go on
	}{
		"both returns, of one name":    {[]capture.Placement{place("supply/volts", "", "into it", "0 V")}, place("dmm/volts", "+5 V logic", "", ""), ""},
		"returns of two names":         {[]capture.Placement{place("supply/volts", "", "into it", "GND")}, place("dmm/volts", "+5 V logic", "", ""), "0 V would be shorted to GND through earth"},
		"hot nets of one name":         {[]capture.Placement{place("supply/volts", "", "x", "-12 V audio")}, place("dmm/volts", "-12 V audio", "", "-12 V audio"), "shorted to -12 V audio of job B through earth"},
		"a low that is one wire":       {[]capture.Placement{place("logger/a", "+24 V", "", "+24 V")}, place("logger/b", "-12 V audio", "", "-12 V audio"), "-12 V audio would be shorted to +24 V of job B through the low"},
		"the other's mains side":       {[]capture.Placement{place("logger/a", "+300 V bulk", "", "")}, place("logger/b", "+5 V logic", "", ""), "of job B"},
		"both on their mains sides":    {[]capture.Placement{place("logger/a", "+300 V bulk", "", "")}, place("logger/b", "", "a point", "+300 V bulk"), "not known to be isolated"},
		"an isolated one there":        {[]capture.Placement{place("meter/volts", "-12 V audio", "", "-12 V audio")}, place("dmm/volts", "+5 V logic", "", ""), ""},
		"the same channel moves":       {[]capture.Placement{place("dmm/volts", "-12 V audio", "", "-12 V audio")}, place("dmm/volts", "+5 V logic", "", ""), ""},
		"another of its shared input":  {[]capture.Placement{place("dmm/ohms", "-12 V audio", "", "-12 V audio")}, place("dmm/volts", "+5 V logic", "", ""), ""},
		"earth itself on both":         {[]capture.Placement{place("dmm/volts", "+5 V logic", "", "earth")}, place("load/volts", "", "x", "earth"), ""},
		"sensors at points of a name":  {[]capture.Placement{place("thermo/celsius", "", "heat sink", "")}, place("dmm/volts", "+5 V logic", "", ""), "heat sink of job B"},
		"mains side there is not here": {nil, place("dmm/volts", "+5 V logic", "", ""), ""},
	} {
		there.Placed = c.there
		here.Others = there.Beyond("job B")
		no, _ := here.Check(c.next)
		if (no == nil) != (c.want == "") || no != nil && !strings.Contains(no.Detail, c.want) {
			t.Errorf("%s: %+v, want %q", name, no, c.want)
		}
	}
}

// Nets that two boards have in common by name alone are judged as on one board.
func TestBeyondAgreesWithOneBoard(t *testing.T) {
	b := piano()
	leads := []capture.Placement{
		place("dmm/volts", "+5 V logic", "", ""), place("supply/volts", "", "x", ""), place("load/volts", "", "x", "GND"),
		place("logger/a", "+5 V logic", "", "earth"), place("logger/b", "-12 V audio", "", "chassis"), place("meter/volts", "+5 V logic", "", "GND"),
	}
	for _, standing := range leads {
		for _, next := range leads {
			one, other := b, b
			one.Placed = []capture.Placement{standing}
			other.Others = one.Beyond("job B")
			got, _ := other.Check(next)
			want, _ := one.Check(next)
			if (got == nil) != (want == nil) || got != nil && !slices.Equal(got.Loop, want.Loop) {
				t.Errorf("%v, then %v: %+v, on one board %+v", standing, next, got, want)
			}
		}
	}
}

// A person's word counts against a rating that was stated, on the secondary side.
func TestVouch(t *testing.T) {
	b := piano()
	b.Rails = append(b.Rails, capture.Rail{Name: "+700 V plate", Nominal: 700, Bounds: capture.NoBounds()})
	for _, c := range []struct{ instrument, rail, final string }{{"meter", "+700 V plate", ""}, {"dmm", "+300 V bulk", "mains"}} {
		p := place(c.instrument+"/volts", c.rail, "", "0 V")
		b.Vouches = nil
		no, _ := b.Check(p)
		if no == nil || no.Unrated != (earth.Vouch{Instrument: c.instrument, Rail: c.rail}) || no.Final != (c.final != "") {
			t.Fatalf("%s: %+v", c.rail, no)
		}
		v, ok := earth.ParseVouch(no.Unrated.String())
		if !ok || v != no.Unrated {
			t.Errorf("%q is read as %+v", no.Unrated, v)
		}
		b.Vouches = []earth.Vouch{v}
		if no, _ := b.Check(p); (no == nil) != (c.final == "") {
			t.Errorf("%s, vouched for: %+v", c.rail, no)
		}
	}
	for _, text := range []string{"", "dmm", " on ", "dmm on ", " on +5 V"} {
		if v, ok := earth.ParseVouch(text); ok {
			t.Errorf("%q is %+v", text, v)
		}
	}
}
