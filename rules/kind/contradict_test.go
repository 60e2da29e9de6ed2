package kind_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

func volts(v float64) capture.Reading { return capture.Reading{Quantity: capture.DCVoltage, Value: v} }
func ohms(v float64) capture.Reading  { return capture.Reading{Quantity: capture.Resistance, Value: v} }

func open(q capture.Quantity) capture.Reading {
	return capture.Reading{Quantity: q, Flags: capture.OverRange}
}

func TestContradicts(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		why             string
		typed, measured capture.Reading
		want            bool
	}{
		{"a live rail beside a dead one", volts(4.98), volts(0.0004), true},
		{"two poor meters", volts(5.20), volts(5.00), false},
		{"at the edge of what is let pass", volts(0.25), volts(0), false},
		{"beyond it", volts(0.26), volts(0), true},
		{"a tenth of twelve", volts(13.2), volts(12.0), false},
		{"more than a tenth", volts(13.4), volts(12.0), true},
		{"the other sign", volts(12), volts(-12), true},
		{"over range on volts", open(capture.DCVoltage), volts(5), true},
		{"a short beside none", ohms(0.84), ohms(4700), true},
		{"none beside a short", ohms(4700), ohms(0.84), true},
		{"open beside a short", open(capture.Resistance), ohms(0.84), true},
		{"a short beside open", ohms(0.84), open(capture.Resistance), true},
		{"either side of the bound, but near", ohms(4.8), ohms(5.6), false},
		{"twice the bound, and a bit", ohms(4.8), ohms(10.1), true},
		{"two ways through a junction", ohms(470), ohms(4700), false},
		{"open beside a junction", open(capture.Resistance), ohms(4700), false},
		{"ohms on a live rail", ohms(120), volts(5), true},
		{"ohms on a dead rail", ohms(120), volts(0.004), false},
		{"volts beside ohms", volts(5), ohms(120), false},
		{"a meter that showed nothing", volts(5), open(capture.DCVoltage), false},
		{"amperes are not compared", capture.Reading{Quantity: capture.DCCurrent, Value: 1}, capture.Reading{Quantity: capture.DCCurrent, Value: 9}, false},
	} {
		if got := kind.Contradicts(c.typed, c.measured, capture.DefaultShortBelow); got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
}

// Of two values of one quantity it does not matter which was typed, and none
// contradicts itself.
func TestContradictionHasTwoSides(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		of := rapid.SampledFrom([]func(float64) capture.Reading{volts, ohms}).Draw(t, "of")
		a, b := of(rapid.Float64Range(0, 1e6).Draw(t, "a")), of(rapid.Float64Range(0, 1e6).Draw(t, "b"))
		if kind.Contradicts(a, b, 5) != kind.Contradicts(b, a, 5) {
			t.Fatalf("%v and %v", a.Value, b.Value)
		}
		if kind.Contradicts(a, a, 5) {
			t.Fatalf("%v contradicts itself", a.Value)
		}
	})
}

func TestWhatATypedValueIsHeldAgainst(t *testing.T) {
	t.Parallel()
	byEye := volts(0)
	byEye.Flags = capture.Typed | capture.ByEye
	late := capture.Reading{Quantity: capture.DCVoltage, Flags: capture.TimedOut}
	for _, c := range []struct {
		why  string
		r    capture.Reading
		age  time.Duration
		live bool
		want bool
	}{
		{"a minute without power", volts(0), time.Minute, false, true},
		{"longer than a minute", volts(0), time.Minute + 1, false, false},
		{"on the rail now, under power", volts(5), 5 * time.Second, true, true},
		{"gone from it, under power", volts(5), 6 * time.Second, true, false},
		{"read by eye", byEye, time.Second, false, false},
		{"no answer in time", late, time.Second, false, false},
	} {
		if got := kind.Fresh(c.r, c.age, c.live); got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
	for v, want := range map[float64]bool{0.5: false, 0.51: true, -12: true, 0: false} {
		if kind.VoltsInCold(volts(v)) != want {
			t.Errorf("%g V in the cold checks", v)
		}
	}
	if kind.VoltsInCold(ohms(120)) || !kind.VoltsInCold(open(capture.DCVoltage)) {
		t.Error("ohms are no volts, over range on volts is")
	}
}
