package standin

import (
	"errors"
	"math"
	"strings"
	"testing"

	"steadyrail/rules/waveform"
)

// trace samples a function of time, 20 ms from 2 ms before zero.
func trace(f func(float64) float64) waveform.Trace {
	t := waveform.Trace{Resolution: 0.001}
	for i := range 4400 {
		at := float64(i)*5e-6 - 2e-3
		t.Times, t.Values = append(t.Times, at), append(t.Values, f(at))
	}
	return t
}

// rung is a second order's rise to 5 V with a damping.
func rung(zeta float64) func(float64) float64 {
	const w = 2 * math.Pi * 2e3
	root := math.Sqrt(1 - zeta*zeta)
	return func(at float64) float64 {
		if at < 0 {
			return 0
		}
		return 5 * (1 - math.Exp(-zeta*w*at)*(math.Cos(w*root*at)+zeta/root*math.Sin(w*root*at)))
	}
}

func stepped(dip float64) func(float64) float64 {
	return func(at float64) float64 {
		if at < 0 {
			return 5.01
		}
		return 5 - dip*math.Exp(-at/0.3e-3)
	}
}

// What a capture supports turns from "not checked" into a figure with a verdict;
// what it does not prove stays "not checked".
func TestCapturesAreJudged(t *testing.T) {
	ripple := func(peak float64) func(float64) float64 {
		return func(at float64) float64 { return 5 + peak/2*math.Sin(2*math.Pi*1e3*at) }
	}
	for _, c := range []struct {
		shows, check string
		want         Word
		wave         func(float64) float64
		spoil        func(*Need)
	}{
		{ShowsStart, "overshoot", Fits, rung(0.7), nil},
		{ShowsStart, "overshoot", Unfit, rung(0.2), nil}, // 53 %
		{ShowsStart, "overshoot", CannotTell, rung(0.4815), nil},
		{ShowsStart, "overshoot", NotStated, rung(0.7), func(n *Need) { n.Survives = Figure{} }},
		{ShowsStart, "monotony", Fits, rung(0.7), nil},
		{ShowsStart, "monotony", Unfit, func(at float64) float64 {
			return 5*min(1, max(0, at/4e-3)) - map[bool]float64{true: 1}[at > 2e-3 && at < 2.1e-3]
		}, nil},
		{ShowsStart, "rise", Fits, rung(0.7), nil},
		{ShowsStart, "rise", Unfit, rung(0.7), func(n *Need) { n.Rise = said(1e-4) }},
		{ShowsStart, "rise", NotStated, rung(0.7), func(n *Need) { n.Rise = Figure{} }},
		{ShowsStep, "load step", Fits, stepped(0.07), nil},
		{ShowsStep, "load step", Unfit, stepped(0.4), nil},
		{ShowsStep, "load step", Fits, stepped(0.4), func(n *Need) { n.Dip = said(0.5) }},
		{ShowsStep, "load step", CannotTell, func(float64) float64 { return 5 }, nil},
		{ShowsStep, "recovery", Fits, stepped(0.4), nil}, // 0.3 ms · ln 8
		{ShowsStep, "recovery", Unfit, stepped(0.4), func(n *Need) { n.Recovery = said(0.5e-3) }},
		{ShowsStep, "recovery", NotStated, stepped(0.4), func(n *Need) { n.Recovery = Figure{} }},
		{ShowsRipple, "ripple seen", Fits, ripple(0.04), nil},
		{ShowsRipple, "ripple seen", Unfit, ripple(0.06), nil},
		{ShowsRipple, "ripple seen", CannotTell, ripple(0.0505), nil},
		{ShowsInput, "input range", Unfit, func(at float64) float64 { return 8 + 3*math.Sin(2*math.Pi*100*at) }, nil},
		{ShowsInput, "input range", Fits, func(at float64) float64 { return 11 + math.Sin(2*math.Pi*100*at) }, nil},
	} {
		n := logic()
		if c.spoil != nil {
			c.spoil(&n)
		}
		var s Scope
		if err := s.Add(n.Rail, c.shows, "a.csv", trace(c.wave)); err != nil {
			t.Errorf("%s: %v", c.check, err)
			continue
		}
		j := Judge(n, module(), s)
		if got := word(j, c.check); got.Word != c.want {
			t.Errorf("%s: %q, want %q: %s", c.check, got.Word, c.want, got.Say)
		}
		if got := word(j, "loop stability"); got.Word != NotChecked {
			t.Errorf("loop stability is %q", got.Word)
		}
		if got := word(j, "carried, radiated noise"); got.Word != NotChecked {
			t.Errorf("noise is %q", got.Word)
		}
	}
}

// The valley that a capture shows is taken, and says so.
func TestValleyOfTheInput(t *testing.T) {
	n := logic()
	var s Scope
	if err := s.Add(n.Rail, ShowsInput, "in.csv", trace(func(at float64) float64 { return 11 + math.Sin(2*math.Pi*100*at) })); err != nil {
		t.Fatal(err)
	}
	fed := s.fed(n)
	near(t, "valley", fed.InLow.Value, 10, 1e-3)
	near(t, "highest stays as stated", fed.InHigh.Value, 14.2, 1e-12)
	if !strings.Contains(fed.InLow.Source, "in.csv") {
		t.Error(fed.InLow.Source)
	}
}

// A capture that cannot be of this rail, or that may show two things, is refused.
func TestCaptureIsOfTheRail(t *testing.T) {
	n := logic()
	for name, c := range map[string]struct {
		shows string
		wave  func(float64) float64
		want  error
	}{
		"probe factor":   {ShowsStart, func(at float64) float64 { return rung(0.7)(at) / 10 }, ErrCapture},
		"two things":     {"", stepped(0.1), ErrCapture},
		"no such word":   {"noise", stepped(0.1), ErrCapture},
		"start not seen": {ShowsStart, func(float64) float64 { return 5 }, waveform.ErrShape},
	} {
		var s Scope
		if err := s.Add(n.Rail, c.shows, "a.csv", trace(c.wave)); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	var s Scope
	if err := s.Add(n.Rail, "", "a.csv", trace(rung(0.7))); err != nil || s.Start == nil {
		t.Error("a start is known by its data:", err)
	}
}
