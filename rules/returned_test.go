package rules

import (
	"math"
	"strings"
	"testing"

	"steadyrail/capture"
)

// A rail that went from 5.012 V ± 6 mV to 4.963 V ± 8 mV went down by 49 mV ± 10 mV:
// the root of 36 + 64.
func TestReturnedComparesEachRail(t *testing.T) {
	volt := func(v, u float64) capture.Result {
		return capture.Result{Quantity: capture.DCVoltage, Value: v, Uncertainty: u, Resolution: .001}
	}
	ohm := capture.Result{Quantity: capture.Resistance, Value: 25.4, Resolution: .1}
	rail := func(name string, before, after []capture.Result) capture.RailEvidence {
		return capture.RailEvidence{Rail: capture.Rail{Name: name}, Before: before, After: after}
	}
	gone := capture.Result{Quantity: capture.DCVoltage, Flags: capture.TimedOut}
	left := capture.Dossier{Sheet: capture.Sheet{Job: "AB-0101"}, To: 7, Rails: []capture.RailEvidence{
		rail("+5 V logic", []capture.Result{volt(0.2, .01), ohm}, []capture.Result{volt(5.1, .006), volt(5.012, .006), gone}),
		rail("+12 V audio", nil, []capture.Result{volt(12.07, .01)}),
		rail("-12 V audio", nil, []capture.Result{volt(-12.14, .01)}),
		rail("+3.3 V DSP", nil, []capture.Result{volt(3.3, 0)}),
		rail("gone since", nil, []capture.Result{volt(1, .1)}),
	}}
	back := capture.Dossier{Rails: []capture.RailEvidence{
		rail("+5 V logic", []capture.Result{gone, volt(4.963, .008), volt(4, .008)}, []capture.Result{volt(5, .008)}),
		rail("+12 V audio", []capture.Result{volt(12.075, .01)}, nil),
		rail("-12 V audio", nil, nil),
		rail("+3.3 V DSP", []capture.Result{volt(3.1, .01)}, nil),
		rail("new", []capture.Result{volt(9, .1)}, nil),
	}}
	got := Returned(left, back)
	want := []struct {
		rail, say string
		moved     bool
	}{
		{"+5 V logic", "Down by 49 mV ± 10 mV", true},
		{"+5 V logic", "Not measured yet", false},
		{"+12 V audio", "As it left, within 14 mV", false},
		{"-12 V audio", "Not measured yet", false},
		{"+3.3 V DSP", "Cannot tell: down by 0.200 V, no uncertainty is stated", false},
	}
	if got.Job != "AB-0101" || got.Left != 7 || len(got.Rails) != len(want) {
		t.Fatalf("%+v", got)
	}
	for i, w := range want {
		if r := got.Rails[i]; r.Rail != w.rail || r.Moved != w.moved || !strings.EqualFold(r.Say, w.say) {
			t.Errorf("%d: %s %q %v, want %+v", i, r.Rail, r.Say, r.Moved, w)
		}
	}
	if r := got.Rails[0]; math.Abs(r.Difference+.049) > 1e-12 || math.Abs(r.Uncertainty-.010) > 1e-12 {
		t.Errorf("%+v", r)
	}
}
