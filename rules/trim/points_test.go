package trim_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

func said(list []string, want string) bool { return strings.Contains(strings.Join(list, "\n"), want) }

// fitted is a converter that was preset to 5.000 V without load and sags by 20 mV
// when it is fitted.
func fitted(t *testing.T) *hand {
	t.Helper()
	h := newHand(line5, 0.0002)
	h.volts = 5.000
	h.post(capture.Act{Verb: capture.ActStage, Stage: capture.Preset})
	h.wait(4 * time.Second)
	h.post(capture.Act{Verb: capture.ActStage, Stage: capture.Trim})
	h.shift = -0.020
	h.wait(4 * time.Second)
	return h
}

// TestFitInShiftIsNoLoadRegulation: what fitting did is told with its
// uncertainty, the meter's gain not in it, and is not called regulation.
func TestFitInShiftIsNoLoadRegulation(t *testing.T) {
	h := fitted(t)
	s := h.state(rail5)
	if s.Preset == nil || s.Fitted == nil || math.Abs(s.Fitted.Value-s.Preset.Value+0.020) > 0.0005 {
		t.Fatalf("preset %+v fitted %+v", s.Preset, s.Fitted)
	}
	if len(s.Findings) != 1 || !said(s.Findings, "Fit-in shift −20.") || !said(s.Findings, "its gain is off cancels") || !said(s.Findings, "no load regulation") {
		t.Errorf("%q", s.Findings)
	}
	// One meter: U of the difference is well below that of either value, whose
	// 0.025 % of 5 V alone is 1.25 mV.
	if s.Preset.U < 0.0014 || !said(s.Findings, "± 0.") && !said(s.Findings, "± 0,") {
		t.Errorf("U of a value %g V; %q", s.Preset.U, s.Findings)
	}
}

// TestThePresetIsWhatWasReadBeforePowerWentOff: nobody fits a converter that is on.
func TestThePresetIsWhatWasReadBeforePowerWentOff(t *testing.T) {
	for name, off := range map[string]func(*hand){
		"announced": func(h *hand) { h.act(capture.ActOutput, "supply", "off", 0) },
		"by hand":   func(h *hand) {},
	} {
		h := newHand(line5, 0.0002)
		h.volts = 5.000
		h.post(capture.Act{Verb: capture.ActStage, Stage: capture.Preset})
		h.wait(4 * time.Second)
		off(h)
		for _, v := range []float64{4.7, 4.1, 2.2, 0.4, 0.01} {
			h.volts = v
			h.step()
		}
		h.wait(5 * time.Second)
		h.post(capture.Act{Verb: capture.ActStage, Stage: capture.Trim})
		h.act(capture.ActOutput, "supply", "on", 0)
		h.volts = 4.980
		h.wait(4 * time.Second)
		if s := h.state(rail5); s.Preset == nil || math.Abs(s.Preset.Value-5) > 0.0005 || !said(s.Findings, "Fit-in shift −20.") {
			t.Errorf("%s: preset %+v, %q", name, s.Preset, s.Findings)
		}
	}
}

// TestATouchBetweenSpoilsTheShift: nobody can tell then what fitting did.
func TestATouchBetweenSpoilsTheShift(t *testing.T) {
	h := newHand(line5, 0.0002)
	h.volts = 5.000
	h.post(capture.Act{Verb: capture.ActStage, Stage: capture.Preset})
	h.wait(4 * time.Second)
	h.turn(1)
	h.wait(4 * time.Second)
	h.turn(-1)
	h.wait(4 * time.Second)
	h.post(capture.Act{Verb: capture.ActStage, Stage: capture.Trim})
	h.wait(4 * time.Second)
	if s := h.state(rail5); !said(s.Findings, "Fit-in shift") || said(s.Findings, "cannot be told") {
		t.Errorf("touched before the preset ended: %q", s.Findings)
	}
}

// TestLoadRegulation: two marks with stated loads and one input. By the formula
// (V(I1) - V(I2)) / V(I2): 12 mV of 5.000 V are 0.24 %.
func TestLoadRegulation(t *testing.T) {
	mark := func(h *hand, load, input float64) {
		as := capture.MarkedAs{Load: &load, From: "typed"}
		if input > 0 {
			as.Input = &input
		}
		h.act(capture.ActMark, rail5, as.Text(), 0)
	}
	for name, c := range map[string]struct {
		do   func(*hand)
		want string
	}{
		"two loads":  {func(h *hand) { mark(h, 0.1, 24); h.shift = -0.012; h.wait(4 * time.Second); mark(h, 0.6, 24.1) }, "Load regulation −0.24"},
		"no input":   {func(h *hand) { mark(h, 0.1, 0); h.shift = -0.012; h.wait(4 * time.Second); mark(h, 0.6, 24) }, "say the input voltage"},
		"two inputs": {func(h *hand) { mark(h, 0.1, 20); h.shift = -0.012; h.wait(4 * time.Second); mark(h, 0.6, 24) }, "the input was"},
		"one load":   {func(h *hand) { mark(h, 0.1, 24); h.wait(4 * time.Second); mark(h, 0.1, 24) }, ""},
		"touched": {func(h *hand) {
			mark(h, 0.1, 24)
			h.turn(1)
			h.wait(4 * time.Second)
			h.act(capture.ActTurn, rail5, "", 1)
			mark(h, 0.6, 24)
		}, "the rail moved once more, by the screw"},
		"an hour": {func(h *hand) {
			mark(h, 0.1, 24)
			h.wait(time.Hour)
			h.shift = -0.012
			h.wait(4 * time.Second)
			mark(h, 0.6, 24)
		}, "60 min lie between"},
	} {
		h := newHand(line5, 0.0002)
		h.volts = 5.000
		h.wait(4 * time.Second)
		c.do(h)
		s := h.state(rail5)
		if c.want == "" && len(s.Findings) != 0 || c.want != "" && !said(s.Findings, c.want) {
			t.Errorf("%s: %q", name, s.Findings)
		}
	}
}
