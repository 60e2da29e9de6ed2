package standin

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// A proposed divider reaches what was asked and goes no further, whatever the
// reference and the resistors; its open wiper drives the output down.
func TestProposedDividerKeepsItsSpan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ref := rapid.Float64Range(0.5, 2.5).Draw(t, "reference")
		low := ref * rapid.Float64Range(1.5, 8).Draw(t, "low")
		high := low * rapid.Float64Range(1.1, 1.5).Draw(t, "high")
		other := rapid.Float64Range(1e3, 100e3).Draw(t, "other")
		d := Propose(said(ref), said(other), low, high, 0.01, E96)
		if _, most := d.Span(); most > high*(1+1e-9) {
			t.Fatalf("goes to %g, asked for %g at most: %+v", most, high, d)
		}
		short := d.Held.Value*(1-d.Tolerance) + d.Trim.Value*(1-d.TrimTol)
		if reach := d.Set(short, d.Other.Value*(1+d.Tolerance)); reach > low*(1+1e-9) {
			t.Fatalf("reaches down to %g at worst, asked for %g: %+v", reach, low, d)
		}
		if open := d.Open(); open > low {
			t.Fatalf("an open wiper gives %g", open)
		}
	})
}

// The neighbours of any value enclose it, and the closest is one of them.
func TestNearestIsANeighbour(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(0.011, 1e7).Draw(t, "value")
		s := rapid.SampledFrom([]Series{E3, E6, E12, E24, E48, E96}).Draw(t, "series")
		below, above, closest := Nearest(v, s, Below), Nearest(v, s, Above), Nearest(v, s, Closest)
		if below > v*(1+1e-8) || above < v*(1-1e-8) {
			t.Fatalf("%g lies between %g and %g", v, below, above)
		}
		if closest != below && closest != above {
			t.Fatalf("%g: the closest is %g, the neighbours %g and %g", v, closest, below, above)
		}
		if d := math.Abs(v - closest); d > math.Abs(v-below)+1e-9*v || d > math.Abs(v-above)+1e-9*v {
			t.Fatalf("%g: %g is not the closest of %g and %g", v, closest, below, above)
		}
	})
}

// What was estimated is held against what the soak measured: 61 °C estimated and
// 58 °C measured stands, 75 °C does not; the worst case decides.
func TestMeasuredAgainstEstimated(t *testing.T) {
	e := Estimate{Ambient: read(40, 2), Watts: read(1, 0.1), Junction: read(65, 5), Top: read(61, 4), Psi: read(4, 1), Most: said(125), PeakRatio: 1.5}
	r := e.Against(read(58, 2), read(40, 1))
	if r.Word != Fits || !strings.HasPrefix(r.Say, "Estimated 61 °C, measured 58 °C") {
		t.Error(r.Word, r.Say)
	}
	near(t, "junction", r.Junction, 62, 1e-12)
	near(t, "worst", r.Worst, 40+1.5*22, 1e-12)
	if r := e.Against(read(75, 2), read(40, 1)); r.Word != CannotTell || !strings.Contains(r.Say, "hotter") {
		t.Error(r.Word, r.Say)
	}
	if r := e.Against(read(110, 2), read(40, 1)); r.Word != Unfit {
		t.Error(r.Word, r.Say)
	}
	if r := e.Against(read(58, 2), read(20, 1)); r.Estimated != 41 || r.Word != CannotTell {
		t.Error("air of 20 °C is no excuse:", r.Estimated, r.Word, r.Say)
	}
	e.Top = Figure{}
	if r := e.Against(read(58, 2), read(40, 1)); r.Word != NotStated {
		t.Error(r.Word, r.Say)
	}
	near(t, "worst case", Worst(80, 25, 40, 12, 1.5), 134.5, 1e-12)
}

// The estimate is the heat question's own figure, split at the top.
func TestEstimateIsWhatWasJudged(t *testing.T) {
	j := Judge(logic(), module(), Scope{})
	if j.Estimate == nil || j.Point != "stand-in case" {
		t.Fatal(j.Estimate, j.Point)
	}
	near(t, "junction", j.Estimate.Junction.Value, word(j, "heat").Value, 1e-12)
	near(t, "top", j.Estimate.Junction.Value-j.Estimate.Top.Value, 4*j.Estimate.Watts.Value, 1e-9)
	n, c := logic(), module()
	c.PerWatt = Figure{}
	if e, ok := c.Estimate(n); ok {
		t.Error("an estimate without a thermal resistance:", e)
	}
}
