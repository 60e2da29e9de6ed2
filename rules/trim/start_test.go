package trim_test

import (
	"math"
	"testing"
	"time"

	"steadyrail/capture"
)

// A set that starts holds its logic in reset and draws less: the step when it lets
// go is no touch, and the fit-in shift is that of the load that it then draws.
func TestASetThatStartsIsNoTouch(t *testing.T) {
	h := newHand(line5, 0.0002)
	h.post(capture.Act{Verb: capture.ActStage, Stage: capture.Preset})
	h.volts = 5.000
	h.wait(4 * time.Second)
	h.post(capture.Act{Verb: capture.ActStage, Stage: capture.Trim})
	h.volts = 0
	h.wait(time.Second)
	h.volts = 4.978
	h.wait(1400 * time.Millisecond)
	h.volts = 4.962
	h.wait(4 * time.Second)
	s := h.state(rail5)
	if s.Touches != 0 || s.Fitted == nil || math.Abs(s.Fitted.Value-4.962) > 0.001 {
		t.Fatalf("%d touches, fitted %+v", s.Touches, s.Fitted)
	}
	h.volts = 4.990 // a screw, for the set has started
	h.wait(4 * time.Second)
	if s = h.state(rail5); s.Touches != 1 || math.Abs(s.Fitted.Value-4.962) > 0.001 {
		t.Errorf("%d touches, fitted %+v", s.Touches, s.Fitted)
	}
}
