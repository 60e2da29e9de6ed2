package rules

import (
	"slices"
	"testing"

	"steadyrail/capture"
)

// An output is asked for when it is on by the record and has less than half of
// what was set, every two seconds at the most; not before, and not after it is
// known to be off.
func TestOutputDoubts(t *testing.T) {
	var d OutputDoubts
	out := func(text, by string) capture.Act {
		return capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: text, By: by}
	}
	volts := func(v float64) capture.Reading {
		return capture.Reading{Channel: "supply/volts", Quantity: capture.DCVoltage, Value: v, Text: "x"}
	}
	other := volts(0)
	other.Channel = "dmm/volts"
	bad := volts(0)
	bad.Flags = capture.OverRange
	for i, c := range []struct {
		at   float64
		item capture.Item
		asks bool
	}{
		{1, capture.Act{Verb: capture.ActLimits, Subject: "supply", Text: "volts 24, over-current 2 (on)"}, false},
		{2, volts(0), false},
		{3, out("on", "R. Hale"), false},
		{4, volts(24), false},
		{5, other, false},
		{6, bad, false},
		{7, volts(11.9), true},
		{8, volts(0), false},
		{9, volts(0), true},
		{10, capture.Act{Verb: capture.ActReadBack, Subject: "supply", Text: "output on"}, false},
		{12, volts(12.1), false},
		{13, volts(-3), true},
		{14, capture.Act{Verb: capture.ActReadBack, Subject: "supply", Text: "output off, tripped: over-current"}, false},
		{20, volts(0), false},
		{21, out("on", "R. Hale"), false},
		{22, volts(0), true},
		{23, out(capture.SwitchingOff, capture.ByTrip), false},
		{30, volts(0), false},
		{31, out("on", capture.ByInject), false},
		{35, volts(0.1), false},
	} {
		got := d.Consume(capture.Record{At: at(c.at), Item: c.item})
		if slices.Equal(got, []string{"supply"}) != c.asks || !c.asks && len(got) > 0 {
			t.Errorf("%d, at %g s: asks %v", i, c.at, got)
		}
	}
	// While the doubt stays, the questions come less and less often.
	d.Consume(capture.Record{At: at(40), Item: out("on", "R. Hale")})
	var asked []float64
	for s := 41.0; s < 100; s++ {
		if len(d.Consume(capture.Record{At: at(s), Item: volts(0)})) > 0 {
			asked = append(asked, s)
		}
	}
	if want := []float64{41, 43, 47, 55, 71, 87}; !slices.Equal(asked, want) {
		t.Errorf("asked at %v s, want %v", asked, want)
	}
	for _, s := range []float64{200, 202} { // a minute later it begins anew
		if len(d.Consume(capture.Record{At: at(s), Item: volts(0)})) == 0 {
			t.Errorf("not asked at %g s", s)
		}
	}
	if !d.On("supply") || d.On("psu") {
		t.Error("what is on by the record")
	}
}

// An output went off when the newest command says so and was confirmed.
func TestWentOff(t *testing.T) {
	var d OutputDoubts
	for i, c := range []struct {
		subject, text string
		off           bool
	}{{"psu/1", "on", false}, {"psu/1", capture.SwitchingOff, false}, {"psu/1", "off", true}, {"psu/2", "on", true}, {"psu/1", "on", false}, {"psu", "off", true}, {"psu/1", capture.NotConfirmed, false}} {
		d.Consume(capture.Record{At: at(float64(i + 1)), Item: capture.Act{Verb: capture.ActOutput, Subject: c.subject, Text: c.text}})
		if d.WentOff("psu/1") != c.off {
			t.Errorf("%d, %s %s: went off %v", i, c.subject, c.text, !c.off)
		}
	}
}
