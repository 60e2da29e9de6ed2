package trim_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

const line5 = "+5 2% logic"

// TestATouchIsAStepBetweenTwoSteadyStretches: what was turned is what is said to
// have moved, and without typed turns no turn is promised.
func TestATouchIsAStepBetweenTwoSteadyStretches(t *testing.T) {
	h := newHand(line5, 0.0002)
	h.volts = 4.880
	h.wait(4 * time.Second)
	if s := h.state(rail5); !s.Steady || s.Touches != 0 || s.State != "low" || s.Say != "120 mV low: up" && s.Say != "0.120 V low: up" {
		t.Fatalf("before: %+v", s)
	}
	h.turn(0.45)
	h.wait(4 * time.Second)
	s := h.state(rail5)
	if s.Touches != 1 || math.Abs(s.Touch.Moved-0.018) > 3*s.Touch.U+0.0002 {
		t.Fatalf("one touch of 18 mV: %+v", s.Touch)
	}
	if s.Gain != nil || !strings.HasPrefix(s.Next, "your last touch moved 18 mV: about ") || strings.Contains(s.Next, "a turn") {
		t.Errorf("nobody typed a turn: %q, gain %+v", s.Next, s.Gain)
	}
	if s.Touch.U <= 0 || s.Touch.U > 0.0005 {
		t.Errorf("u of the step %g V", s.Touch.U)
	}
}

// TestTheGainIsLearnedFromTypedTurns: the regression finds the 40 mV a turn of
// the trimmer, and promises the turns that are left.
func TestTheGainIsLearnedFromTypedTurns(t *testing.T) {
	h := newHand(line5, 0.0002)
	h.volts = 4.850
	h.wait(4 * time.Second)
	for _, turns := range []float64{1, 1.5, 0.5} {
		h.turn(turns)
		h.wait(3 * time.Second)
		h.act(capture.ActTurn, rail5, "", turns)
		h.wait(time.Second)
	}
	s := h.state(rail5)
	if s.Touches != 3 || s.Gain == nil || s.Gain.Touches < 2 {
		t.Fatalf("touches %d, gain %+v", s.Touches, s.Gain)
	}
	if math.Abs(s.Gain.PerTurn-0.040) > 0.001 || s.Gain.U <= 0 || s.Gain.U > 0.005 {
		t.Errorf("40 mV a turn: %+v", s.Gain)
	}
	if want := "about 40 mV a turn: three quarters of a turn up, then lift the blade"; s.Next != want {
		t.Errorf("next %q, want %q (off %g)", s.Next, want, s.Off)
	}
}

// TestTurnsMayBeSaidBefore: the demo's technician records the turn as it begins.
func TestTurnsMayBeSaidBefore(t *testing.T) {
	h := newHand(line5, 0.0002)
	for _, turns := range []float64{1, -0.5} {
		h.wait(3 * time.Second)
		h.act(capture.ActTurn, "stand-in", "", turns)
		h.turn(turns)
		h.wait(3 * time.Second)
		if s := h.state(rail5); s.Touch == nil || s.Touch.Turns != turns {
			t.Fatalf("turns %g: %+v", turns, s.Touch)
		}
	}
}

// TestSlackShowsAtTheReversal: what is lost when the screw turns back is told in
// turns, and asked for on top.
func TestSlackShowsAtTheReversal(t *testing.T) {
	h := newHand(line5, 0.0001)
	h.volts, h.slack = 4.850, 0.3
	h.screw, h.wiper = 0, -0.15 // taken up upwards
	h.wait(3 * time.Second)
	for _, turns := range []float64{1, 2, 1, -1} {
		h.turn(turns)
		h.wait(2 * time.Second)
		h.act(capture.ActTurn, rail5, "", turns)
		h.wait(2 * time.Second)
	}
	s := h.state(rail5)
	if math.Abs(s.Slack-0.3) > 0.06 {
		t.Fatalf("slack %g turns, 0.3 is true; gain %+v", s.Slack, s.Gain)
	}
	if math.Abs(s.Gain.PerTurn-0.040) > 0.001 {
		t.Errorf("the reversal is no part of the gain: %+v", s.Gain)
	}
	if !strings.Contains(s.Next, "slack") || !strings.Contains(strings.Join(s.Notes, " "), "lost when it turns back") {
		t.Errorf("%q %q", s.Next, s.Notes)
	}
}

// TestTheBladeIsLifted: a small step soon after a touch belongs to it.
func TestTheBladeIsLifted(t *testing.T) {
	h := newHand(line5, 0.0001)
	h.volts = 4.850
	h.wait(3 * time.Second)
	h.blade = -0.0022
	h.turn(1)
	h.wait(2500 * time.Millisecond)
	h.blade = 0
	h.wait(3 * time.Second)
	s := h.state(rail5)
	if s.Touches != 1 || math.Abs(s.Touch.Moved-0.040) > 0.0005 {
		t.Fatalf("touches %d, last %+v", s.Touches, s.Touch)
	}
	if math.Abs(s.Blade-0.0022) > 0.0004 || !strings.Contains(strings.Join(s.Notes, " "), "blade lifted it goes 2 mV up") {
		t.Errorf("blade %g V: %q", s.Blade, s.Notes)
	}
}

// TestANegativeRailGoesByMagnitude: -11.8 V is low, and up is away from zero.
func TestANegativeRailGoesByMagnitude(t *testing.T) {
	h := newHand("-12 1% audio", 0.0002)
	h.volts = 11.800
	h.wait(3 * time.Second)
	h.turn(1)
	h.wait(3 * time.Second)
	s := h.state("-12 V audio")
	if s.State != "low" || !strings.HasSuffix(s.Say, "low: up") || s.Value > 0 || math.Abs(s.Touch.Moved-0.040) > 0.001 {
		t.Fatalf("%+v %+v", s, s.Touch)
	}
}

// TestDriftIsNoTouch: half an hour of warming moves a rail without a hand.
func TestDriftIsNoTouch(t *testing.T) {
	h := newHand(line5, 0.0002)
	h.volts = 4.990
	for range 9000 {
		h.shift += 0.012 / 9000
		h.step()
	}
	if s := h.state(rail5); s.Touches != 0 {
		t.Errorf("%d touches, the last %+v", s.Touches, s.Touch)
	}
}

// TestNoiseIsNoTouch: nothing is turned, whatever the scatter.
func TestNoiseIsNoTouch(t *testing.T) {
	for _, noise := range []float64{0.00002, 0.0003, 0.001, 0.003} {
		h := newHand(line5, noise)
		h.volts = 5
		h.wait(10 * time.Minute)
		if s := h.state(rail5); s.Touches > 0 {
			t.Errorf("noise %g V: %d touches, the last %+v", noise, s.Touches, s.Touch)
		}
	}
}

// TestATouchIsFoundOfAnySize: steps from 4 mV to 400 mV, at any noise that a
// meter at rest shows, are told within what is said of them.
func TestATouchIsFoundOfAnySize(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		turns := rapid.Float64Range(0.12, 8).Draw(rt, "turns")
		h := newHand(line5, rapid.Float64Range(0.00002, 0.0004).Draw(rt, "noise"))
		h.volts = rapid.Float64Range(4.5, 4.9).Draw(rt, "volts")
		h.wait(5 * time.Second)
		h.turn(turns)
		h.wait(6 * time.Second)
		s := h.state(rail5)
		if s.Touches != 1 {
			rt.Fatalf("%d touches", s.Touches)
		}
		if d := math.Abs(s.Touch.Moved - float64(0.040*turns)); d > 5*s.Touch.U+0.0003 {
			rt.Fatalf("moved %g V, %g is true, u %g", s.Touch.Moved, 0.040*turns, s.Touch.U)
		}
	})
}

// TestAnotherChangeIsNoTouch: an output that was switched, and a probe that was
// lifted, move a rail without a screw.
func TestAnotherChangeIsNoTouch(t *testing.T) {
	for name, change := range map[string]func(*hand){
		"limits": func(h *hand) { h.act(capture.ActLimits, "supply", "volts 12", 0) },
		"probe":  func(h *hand) { v := h.volts; h.volts = 0.01; h.wait(2 * time.Second); h.volts = v },
		"gap":    func(h *hand) { h.post(capture.Gap{From: h.now, To: h.now.Add(time.Second), Reason: "not running"}) },
		"moved":  func(h *hand) { h.post(capture.Placement{Channel: "dmm/volts", Rail: rail5, Point: "elsewhere"}) },
	} {
		h := newHand(line5, 0.0002)
		h.wait(3 * time.Second)
		change(h)
		h.shift = 0.030
		h.wait(3 * time.Second)
		if s := h.state(rail5); s.Touches != 0 || !s.Steady {
			t.Errorf("%s: %+v", name, s)
		}
	}
}

// TestADeclaredTrimmer: 25 turns over 1 V promise 40 mV a turn, by its data, and
// what is learned takes its place.
func TestADeclaredTrimmer(t *testing.T) {
	h := newHand(line5, 0.0002)
	h.act(capture.ActTrimmer, rail5, "1 V", 25)
	h.volts = 4.970
	h.wait(3 * time.Second)
	s := h.state(rail5)
	if s.Gain == nil || !s.Gain.Declared || s.Next != "by its data 40 mV a turn: three quarters of a turn up, then lift the blade" {
		t.Fatalf("%q %+v", s.Next, s.Gain)
	}
	h.turn(0.5)
	h.wait(3 * time.Second)
	h.act(capture.ActTurn, rail5, "", 0.5)
	if s = h.state(rail5); s.Gain == nil || s.Gain.Declared {
		t.Errorf("learned: %+v", s.Gain)
	}
}

// TestNoReadingIsNoState: silence is said, and nothing is promised.
func TestNoReadingIsNoState(t *testing.T) {
	h := newHand(line5, 0.0002)
	if s := h.state(rail5); s.State != "no reading" || s.Tone.Hz[0] != 110 {
		t.Fatalf("%+v", s)
	}
	h.wait(3 * time.Second)
	s, _ := h.fold.State(rail5, h.now.Add(10*time.Second))
	if s.State != "no reading" {
		t.Errorf("ten seconds old: %+v", s)
	}
	if _, there := h.fold.State("+7 V", h.now); there {
		t.Error("no such rail")
	}
}
