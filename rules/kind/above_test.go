package kind

import (
	"math"
	"testing"
	"time"

	"steadyrail/capture"
)

// sink judges a rise of thermo/sink over another channel, with the same list of
// accuracy: 0.5 % and one count of 0.1 °C.
func sink(air capture.ChannelID, list []capture.Accuracy) *hot {
	of := func(id capture.ChannelID) capture.ChannelInfo {
		return capture.ChannelInfo{ID: id, Quantity: capture.Temperature, Every: time.Second, Accuracy: list}
	}
	h := newHot(Case{Rule: capture.Rule{Kind: "hot", Against: string(air)}, Rail: five}).(*hot)
	h.Sit(start, Seat{Channel: of("thermo/sink"), Beside: of(air)})
	return h
}

func (h *hot) feel(s, own, air float64) capture.Verdict {
	degrees := func(id capture.ChannelID, v float64) *capture.Reading {
		return &capture.Reading{Channel: id, Quantity: capture.Temperature, Value: v, Resolution: 0.1, Range: 100}
	}
	h.Beside(at(s), degrees(capture.ChannelID(h.Rule.Against), air))
	h.Read(at(s+0.1), degrees("thermo/sink", own))
	return h.Verdict()
}

var sensors = []capture.Accuracy{{Range: 100, OfReading: 0.005, Digits: 1, Resolution: 0.1}}

// By hand, sink at 70 °C and air at 25: of one instrument the gain error is that
// of 45 K, 0.225 K, and the counts are each its own, √2 · 0.1 K, added; of two the
// limits are 0.45 K and 0.225 K. The last digits are √2 · 0.1 K/√12.
func TestRiseHasTheUncertaintyOfBoth(t *testing.T) {
	digits := 2 * 0.1 * 0.1 / 12
	for air, limit := range map[capture.ChannelID]float64{
		"thermo/air": 0.225 + 0.1*math.Sqrt2,
		"other/air":  math.Hypot(0.45, 0.225),
	} {
		v := sink(air, sensors).feel(1, 70, 25)
		if want := 2 * math.Sqrt(limit*limit/3+digits); math.Abs(v.Uncertainty-want) > 1e-12 || v.Indicated {
			t.Errorf("against %s: ± %g K (indicated only: %v), want ± %g K", air, v.Uncertainty, v.Indicated, want)
		}
	}
}

func TestRiseOutcomes(t *testing.T) {
	for _, c := range []struct {
		own  float64
		want capture.Outcome
	}{{69, capture.Pass}, {69.8, capture.ConditionalPass}, {70.2, capture.ConditionalFail}, {71, capture.Fail}} {
		if v := sink("thermo/air", sensors).feel(1, c.own, 25); v.Outcome != c.want {
			t.Errorf("%g °C over 25 °C, limit 45 K: %v ± %g K, want %v", c.own, v.Outcome, v.Uncertainty, c.want)
		}
		bare := capture.Pass
		if c.own > 70 {
			bare = capture.Fail
		}
		if v := sink("thermo/air", nil).feel(1, c.own, 25); v.Outcome != bare || !v.Indicated || v.Uncertainty != 0 {
			t.Errorf("%g °C without an accuracy: %+v, want %v, indicated only", c.own, v, bare)
		}
	}
}

// A description that changes while the air is known is taken over at once.
func TestRiseTakesANewDescription(t *testing.T) {
	h := sink("thermo/air", nil)
	h.feel(1, 69, 25)
	h.Sit(at(2), sink("thermo/air", sensors).seat)
	h.Read(at(3), &capture.Reading{Channel: "thermo/sink", Quantity: capture.Temperature, Value: 69, Resolution: 0.1, Range: 100})
	if v := h.Verdict(); v.Indicated || v.Uncertainty == 0 {
		t.Errorf("after the roster was told anew: %+v", v)
	}
}

func TestRiseTakesNoMemory(t *testing.T) {
	warm := []capture.Accuracy{{Range: 100, OfReading: 0.005, Digits: 1, Resolution: 0.1, PerKelvin: 1e-4}}
	h := sink("thermo/air", warm)
	if v := h.feel(1, 69, 25); v.Note != "assumed 23 °C in the room" {
		t.Errorf("note %q", v.Note)
	}
	s := 1.0
	own := &capture.Reading{Channel: "thermo/sink", Quantity: capture.Temperature, Value: 69, Resolution: 0.1, Range: 100}
	air := &capture.Reading{Channel: "thermo/air", Quantity: capture.Temperature, Value: 25, Resolution: 0.1, Range: 100}
	if n := testing.AllocsPerRun(200, func() {
		s += 0.1
		h.Beside(at(s), air)
		h.Read(at(s), own)
	}); n != 0 {
		t.Errorf("%v allocations for a reading of each", n)
	}
}
