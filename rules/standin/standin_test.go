package standin

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

func said(v float64) Figure    { return Figure{Value: v, Source: "invented"} }
func read(v, u float64) Figure { return Figure{Value: v, U: u, Source: "measured"} }
func word(j Judgement, name string) Check {
	for _, c := range j.Checks {
		if c.Name == name {
			return c
		}
	}
	return Check{}
}

// logic is what the +5 V rail of the invented stage piano asks for.
func logic() Need {
	return Need{
		Rail: capture.Rail{Name: "+5 V logic", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}},
		Load: read(1.1, 0.02), Peak: read(1.6, 0.05), Least: read(0.7, 0.02),
		InLow: read(10.4, 0.1), InHigh: read(14.2, 0.1), Ambient: read(42, 2), Survives: said(6), Ripple: said(0.05),
		Board: said(470e-6), Rise: said(0.05), SourceOhm: read(0.08, 0.01), SourceMax: said(200), ReturnOhm: read(0.01, 0.005),
		Separates: No, Enable: "none", Class: "functional", Creepage: said(0.001), Beside: said(0), BoardESR: read(0.2, 0.02), Recovery: said(1e-3),
		Prebiased: No, Parallel: No, Sense: No, Good: No, EnableOn: said(3.3), EnableOff: said(0.2), Length: said(0.05), Width: said(0.03), Height: said(0.02),
	}
}

// module is an invented step-down converter that fits.
func module() Candidate {
	return Candidate{
		Name: "step-down board", Topology: StepDown,
		InLow: said(6.5), InHigh: said(36), OutLow: said(1.2), OutHigh: said(12), DutyMax: said(0.9),
		Current: said(3), DerateFrom: said(50), DeratePerK: said(0.04), Efficiency: said(0.88), PerWatt: said(35), Junction: said(125),
		Frequency: said(500e3), Inductance: said(15e-6), SwitchMax: said(3.5), OutCap: said(47e-6), OutESR: said(0.01), InCap: said(22e-6), InCapRMS: said(2),
		LeastLoad: said(0), CapMax: said(2200e-6), Start: said(0.005), Clamp: said(5.8), Fuse: said(3), Enable: "high",
		Diode: said(3), DiodeBack: said(40), Overload: "constant", Top: read(4, 1), Point: "stand-in case",
		Divider: &Divider{Reference: said(0.8), Held: said(1820), Other: said(10000), Trim: said(500), TrimIn: "held", Tolerance: 0.01, TrimTol: 0.2},
		Length:  said(0.043), Width: said(0.021), Height: said(0.014),
	}
}

func TestAFittingCandidateFits(t *testing.T) {
	j := Judge(logic(), module(), Scope{})
	for _, c := range j.Checks {
		if c.Word != Fits && c.Word != NotNeeded && c.Word != NotChecked {
			t.Errorf("%s: %s: %s", c.Name, c.Word, c.Say)
		}
	}
	if j.Word != Fits || !strings.Contains(j.Say, "as far as was checked") {
		t.Errorf("%s: %s", j.Word, j.Say)
	}
	if c := word(j, "loop stability"); c.Word != NotChecked {
		t.Errorf("loop stability is %q", c.Word)
	}
}

// Each line spoils one thing and names the check that must see it.
func TestEachFlawIsSeen(t *testing.T) {
	linear := func(c *Candidate) {
		c.Topology, c.Dropout, c.Quiescent = Linear, said(1.5), said(0.005)
	}
	for _, flaw := range []struct {
		check string
		want  Word
		spoil func(*Need, *Candidate)
	}{
		{"separation", Unfit, func(n *Need, _ *Candidate) { n.Separates, n.Working = Yes, said(340) }},
		{"separation", NotStated, func(n *Need, _ *Candidate) { n.Separates = Unsaid }},
		{"separation", Unfit, func(n *Need, c *Candidate) { n.Separates, n.Working, c.Isolation = Yes, said(340), said(250) }},
		{"separation", Unfit, func(n *Need, c *Candidate) {
			n.Separates, n.Working, n.Class, n.Creepage = Yes, said(340), "reinforced", said(0.006)
			c.Isolation, c.Class, c.Creepage = said(400), "basic", said(0.008)
		}},
		{"separation", Unfit, func(n *Need, c *Candidate) {
			n.Separates, n.Working, n.Class, n.Creepage = Yes, said(340), "reinforced", said(0.006)
			c.Isolation, c.Class, c.Creepage = said(400), "reinforced", said(0.005)
		}},
		{"separation", NotStated, func(n *Need, c *Candidate) { n.Separates, n.Working, c.Isolation = Yes, said(340), said(400) }},
		{"fuse", Unfit, func(_ *Need, c *Candidate) { c.Fuse = said(1) }},
		{"fuse", Unfit, func(n *Need, c *Candidate) { n.SourceMax = said(10) }},
		{"fuse", NotStated, func(_ *Need, c *Candidate) { c.Fuse = Figure{} }},
		{"setting", Unfit, func(_ *Need, c *Candidate) { c.Divider.Trim, c.Divider.Held = Figure{}, said(2200) }},
		{"setting", CannotTell, func(_ *Need, c *Candidate) {
			c.Divider.Trim, c.Divider.Held, c.Divider.Tolerance = Figure{}, said(1910), 0.05
		}},
		{"setting", NotStated, func(_ *Need, c *Candidate) { c.Divider = nil }},
		{"overload", Unfit, func(_ *Need, c *Candidate) { c.Overload, c.FoldTo = "foldback", said(0.6) }},
		{"overload", NotStated, func(_ *Need, c *Candidate) { c.Overload = "foldback" }},
		{"overload", Unfit, func(n *Need, c *Candidate) { c.Overload, c.CapMax, n.Board = "hiccup", Figure{}, said(3300e-6) }},
		{"diode", Unfit, func(_ *Need, c *Candidate) { c.Diode = said(0.5) }},
		{"diode", Unfit, func(_ *Need, c *Candidate) { c.DiodeBack = said(12) }},
		{"beat", Unfit, func(n *Need, _ *Candidate) { n.Beside = said(495e3) }},
		{"beat", CannotTell, func(n *Need, c *Candidate) { n.Beside, c.Frequency = said(400e3), read(500e3, 90e3) }},
		{"output capacitor", Unfit, func(n *Need, c *Candidate) { linear(c); c.ESRLow, c.ESRHigh = said(0.5), said(5) }},
		{"output capacitor", Unfit, func(n *Need, c *Candidate) { linear(c); c.ESRLow, c.ESRHigh = said(0.01), said(0.1) }},
		{"inrush", Unfit, func(n *Need, c *Candidate) { n.SourceI2t = said(0.005) }},
		{"inrush", NotStated, func(_ *Need, c *Candidate) { c.InCap = Figure{} }},
		{"held-up rail", Unfit, func(n *Need, c *Candidate) { n.Prebiased, c.Prebias = Yes, No }},
		{"second source", NotStated, func(n *Need, c *Candidate) { n.Parallel = Yes }},
		{"sense lines", Unfit, func(n *Need, c *Candidate) { n.Sense, c.Sense = Yes, No }},
		{"power-good", Unfit, func(n *Need, c *Candidate) { n.Good, c.Good = Yes, No }},
		{"enable", NotStated, func(n *Need, c *Candidate) { n.Enable = "high" }},
		{"enable", Unfit, func(n *Need, c *Candidate) {
			n.Enable, n.EnableOn, c.EnableOn, c.EnableOff = "high", said(1.8), said(2), said(0.4)
		}},
		{"polarity", Unfit, func(n *Need, _ *Candidate) { n.Rail.Nominal, n.Rail.Target = -5, -5 }},
		{"failure", Unfit, func(_ *Need, c *Candidate) { c.Clamp = Figure{} }},
		{"failure", Unfit, func(_ *Need, c *Candidate) { c.Clamp = said(6.5) }},
		{"input range", Unfit, func(n *Need, _ *Candidate) { n.InHigh = said(40) }},
		{"input range", CannotTell, func(n *Need, _ *Candidate) { n.InLow = read(6.55, 0.1) }},
		{"headroom", Unfit, func(n *Need, _ *Candidate) { n.InLow = said(6) }},
		{"headroom", Unfit, func(n *Need, c *Candidate) { linear(c); n.InLow = said(6.2) }},
		{"output range", Unfit, func(n *Need, _ *Candidate) { n.Rail.Target = 13 }},
		{"trimmer", Unfit, func(_ *Need, c *Candidate) { c.Divider.Held = said(1500) }},
		{"trimmer", Unfit, func(_ *Need, c *Candidate) { c.Divider.TrimIn = "other" }},
		{"trimmer", Unfit, func(_ *Need, c *Candidate) { c.Divider.Held = said(2400) }},
		{"current", Unfit, func(n *Need, _ *Candidate) { n.Peak = said(3.2) }},
		{"current", Unfit, func(n *Need, _ *Candidate) { n.Ambient = said(90) }},
		{"inductor", Unfit, func(_ *Need, c *Candidate) { c.SwitchMax = said(1.7) }},
		{"output ripple", Unfit, func(_ *Need, c *Candidate) { c.OutESR = said(0.3) }},
		{"input capacitor", Unfit, func(_ *Need, c *Candidate) { c.InCapRMS = said(0.4) }},
		{"heat", Unfit, func(_ *Need, c *Candidate) { linear(c) }}, // 9 V at 1.1 A
		{"heat", CannotTell, func(n *Need, c *Candidate) { c.PerWatt, n.Ambient = read(110, 20), read(42, 4) }},
		{"least load", Unfit, func(_ *Need, c *Candidate) { c.LeastLoad = said(1) }},
		{"start into the board", Unfit, func(n *Need, _ *Candidate) { n.Board = said(4700e-6) }},
		{"start into the board", Unfit, func(n *Need, c *Candidate) { c.CapMax = Figure{}; n.Board = said(2200e-6) }},
		{"start into the board", Unfit, func(n *Need, _ *Candidate) { n.Rise = said(0.001) }},
		{"inrush", Unfit, func(n *Need, _ *Candidate) { n.SourceMax = said(5) }},
		{"source", Unfit, func(n *Need, _ *Candidate) { n.SourceOhm = said(4) }},
		{"source", CannotTell, func(n *Need, _ *Candidate) { n.SourceOhm = said(2) }},
		{"return", Unfit, func(n *Need, _ *Candidate) { n.ReturnOhm = said(0.1) }},
		{"enable", Unfit, func(n *Need, c *Candidate) { n.Enable, c.Enable = "low", "high" }},
		{"enable", Unfit, func(n *Need, c *Candidate) { n.Enable, c.Enable = "high", "none" }},
		{"room", Unfit, func(_ *Need, c *Candidate) { c.Height = said(0.03) }},
		{"room", Unfit, func(_ *Need, c *Candidate) { c.Length = said(0.06) }},
	} {
		n, c := logic(), module()
		flaw.spoil(&n, &c)
		j := Judge(n, c, Scope{})
		if got := word(j, flaw.check); got.Word != flaw.want {
			t.Errorf("%s: %q, want %q: %s", flaw.check, got.Word, flaw.want, got.Say)
		}
		if flaw.want == Unfit && j.Word != Unfit || j.Word == Fits {
			t.Errorf("%s spoilt, and all comes to %q", flaw.check, j.Word)
		}
	}
}

// A wrong size turned by a right angle is a right one.
func TestRoomMayBeTurned(t *testing.T) {
	n, c := logic(), module()
	c.Length, c.Width = c.Width, c.Length
	if got := room(n, c); got.Word != Fits {
		t.Error(got.Say)
	}
}

// Whatever figure is taken away, what was judged with it is never a pass.
func TestWhatIsNotStatedIsNeverAPass(t *testing.T) {
	full := Judge(logic(), module(), Scope{})
	for i, wipe := range wipes() {
		n, c := logic(), module()
		wipe(&n, &c)
		j := Judge(n, c, Scope{})
		changed := false
		for k, check := range j.Checks {
			if check.Word == NotStated {
				changed = true
			}
			if check.Word == Fits && full.Checks[k].Word != Fits {
				t.Errorf("figure %d taken away: %s became a pass", i, check.Name)
			}
		}
		if !changed && j.Word == Fits {
			t.Errorf("figure %d taken away, and nobody misses it", i)
		}
	}
}

// wipes takes one figure away each: those that a fitting step-down converter
// with a trimmer is judged by.
func wipes() (out []func(*Need, *Candidate)) {
	for _, f := range []func(n *Need, c *Candidate) *Figure{
		func(n *Need, _ *Candidate) *Figure { return &n.Load }, func(n *Need, _ *Candidate) *Figure { return &n.Peak },
		func(n *Need, _ *Candidate) *Figure { return &n.Least }, func(n *Need, _ *Candidate) *Figure { return &n.InLow },
		func(n *Need, _ *Candidate) *Figure { return &n.InHigh }, func(n *Need, _ *Candidate) *Figure { return &n.Ambient },
		func(n *Need, _ *Candidate) *Figure { return &n.Survives }, func(n *Need, _ *Candidate) *Figure { return &n.Ripple },
		func(n *Need, _ *Candidate) *Figure { return &n.Board }, func(n *Need, _ *Candidate) *Figure { return &n.SourceOhm },
		func(n *Need, _ *Candidate) *Figure { return &n.SourceMax }, func(n *Need, _ *Candidate) *Figure { return &n.ReturnOhm },
		func(n *Need, _ *Candidate) *Figure { return &n.Height }, func(_ *Need, c *Candidate) *Figure { return &c.InLow },
		func(_ *Need, c *Candidate) *Figure { return &c.InHigh }, func(_ *Need, c *Candidate) *Figure { return &c.OutLow },
		func(_ *Need, c *Candidate) *Figure { return &c.OutHigh }, func(_ *Need, c *Candidate) *Figure { return &c.DutyMax },
		func(_ *Need, c *Candidate) *Figure { return &c.Current }, func(_ *Need, c *Candidate) *Figure { return &c.Efficiency },
		func(_ *Need, c *Candidate) *Figure { return &c.PerWatt }, func(_ *Need, c *Candidate) *Figure { return &c.Junction },
		func(_ *Need, c *Candidate) *Figure { return &c.Frequency }, func(_ *Need, c *Candidate) *Figure { return &c.Inductance },
		func(_ *Need, c *Candidate) *Figure { return &c.SwitchMax }, func(_ *Need, c *Candidate) *Figure { return &c.OutCap },
		func(_ *Need, c *Candidate) *Figure { return &c.OutESR }, func(_ *Need, c *Candidate) *Figure { return &c.InCapRMS },
		func(_ *Need, c *Candidate) *Figure { return &c.LeastLoad }, func(_ *Need, c *Candidate) *Figure { return &c.Start },
		func(_ *Need, c *Candidate) *Figure { return &c.Divider.Held }, func(_ *Need, c *Candidate) *Figure { return &c.Width },
		func(n *Need, _ *Candidate) *Figure { return &n.Beside }, func(_ *Need, c *Candidate) *Figure { return &c.InCap },
		func(_ *Need, c *Candidate) *Figure { return &c.Diode }, func(_ *Need, c *Candidate) *Figure { return &c.DiodeBack },
		func(_ *Need, c *Candidate) *Figure { return &c.Fuse }, func(_ *Need, c *Candidate) *Figure { return &c.Clamp },
	} {
		out = append(out, func(n *Need, c *Candidate) { *f(n, c) = Figure{} })
	}
	return out
}
