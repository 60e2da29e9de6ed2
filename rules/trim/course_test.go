package trim_test

import (
	"math"
	"strings"
	"testing"
	"time"
)

// warm lets a rail follow value(t) for a while, t in minutes, read each second.
func warm(h *hand, long time.Duration, value func(minutes float64) float64) {
	h.every = time.Second
	begun := h.now
	h.volts = 0
	for h.now.Sub(begun) < long {
		h.shift = value(h.now.Sub(begun).Minutes())
		h.step()
	}
}

// TestReTrimAdvice: one exponential of 8 min and 30 mV that ends 6 mV high. Below
// two time constants and half an hour nothing is told; then the end, and what to
// trim to now, which is the target less what is still to come.
func TestReTrimAdvice(t *testing.T) {
	law := func(m float64) float64 { return 5.020 - float64(0.030*math.Exp(-m/8)) }
	h := newHand(line5, 0.0003)
	warm(h, 12*time.Minute, law)
	if c := h.state(rail5).Course; c.Known || c.Final != 0 || c.Say != "Not yet known: watched 12 of 30 min" && c.Say != "Not yet known: watched 11 of 30 min" {
		t.Fatalf("after 12 min: %+v", c)
	}
	h = newHand(line5, 0.0003)
	warm(h, 40*time.Minute, law)
	c := h.state(rail5).Course
	if !c.Known || math.Abs(c.Final-5.020) > c.U+0.0002 {
		t.Fatalf("after 40 min: %+v", c)
	}
	now := law(40)
	if want := now - 0.020; math.Abs(c.TrimT-want) > 0.001 {
		t.Errorf("trim to %g V, %g V would end at 5 V", c.TrimT, want)
	}
	if !strings.HasPrefix(c.Say, "Will end 20 mV high, give or take ") || !strings.Contains(c.Say, "trim to 4.99") && !strings.Contains(c.Say, "trim to 5.00") {
		t.Errorf("%q", c.Say)
	}
}

// TestASlowerWarmingIsNotTold: two time constants (2 and 25 min, 20 and 15 mV):
// the trap in which a perfect fit of a short window lies by 11 mV.
func TestASlowerWarmingIsNotTold(t *testing.T) {
	law := func(m float64) float64 { return 5 - float64(0.020*math.Exp(-m/2)) - float64(0.015*math.Exp(-m/25)) }
	for _, long := range []time.Duration{5 * time.Minute, 10 * time.Minute, 31 * time.Minute} {
		h := newHand(line5, 0.0003)
		warm(h, long, law)
		if c := h.state(rail5).Course; c.Known {
			t.Errorf("after %s: %+v", long, c)
		}
	}
}

// TestATouchBeginsTheWarmingAnew: what was watched before cannot be joined.
func TestATouchBeginsTheWarmingAnew(t *testing.T) {
	h := newHand(line5, 0.0003)
	warm(h, 40*time.Minute, func(m float64) float64 { return 5.020 - float64(0.030*math.Exp(-m/8)) })
	h.every = 200 * time.Millisecond
	h.turn(0.5)
	h.wait(3 * time.Second)
	if s := h.state(rail5); s.Touches != 1 || s.Course.Known || !strings.Contains(s.Course.Say, "watched 0 of 30") {
		t.Errorf("%d touches, %+v", s.Touches, s.Course)
	}
}
