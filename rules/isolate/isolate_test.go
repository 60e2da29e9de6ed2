package isolate

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The limits of judgement of the project's study of the ledger, each computed
// there from the same propagation (3.29·√2·G²·u) and rounded as printed.
func TestHighestBranch(t *testing.T) {
	for _, c := range []struct{ standing, contact, want float64 }{
		{0.30, 0.020, 0.97},
		{0.468, 0.020, 2.35},
		{0.30, 0.0005, 39},
		{100, 0.020, 107e3},
	} {
		got := Highest(c.standing, Doubt{Contact: c.contact})
		if math.Abs(got/c.want-1) > 0.01 {
			t.Errorf("standing %g ohm, contact %g ohm: a branch up to %.4g ohm, want %g", c.standing, c.contact, got, c.want)
		}
	}
}

// TestPropagationAgainstMonteCarlo draws the measurement model itself (the
// method of JCGM 101) and compares the spread of ΔG with the formula.
func TestPropagationAgainstMonteCarlo(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		before, after float64
		d             Doubt
	}{
		{0.30, 0.31, Doubt{Gain: 0.002, Leads: 0.003, Contact: 0.004}},
		{0.468, 113.2, Doubt{Gain: 0.002, Leads: 0.003, Contact: 0.004}},
		{100, 111.11, Doubt{Gain: 0.002, Leads: 0.02, Contact: 0.02}},
	} {
		const n = 200_000
		var sum, sq float64
		for range n {
			gain, leads := 1+c.d.Gain*r.NormFloat64(), c.d.Leads*r.NormFloat64()
			read := func(ohm float64) float64 { return gain*ohm + leads + c.d.Contact*r.NormFloat64() }
			dg := 1/read(c.before) - 1/read(c.after)
			sum += dg
			sq += dg * dg
		}
		mean := sum / n
		sd := math.Sqrt(sq/n - mean*mean)
		l, err := Compare(c.before, c.after, c.d)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(l.U/sd-1) > 0.03 {
			t.Errorf("%g to %g ohm: u = %.5g S, drawn %.5g S", c.before, c.after, l.U, sd)
		}
	}
}

func TestJudge(t *testing.T) {
	clipped := Doubt{Gain: 0.0005, Leads: 0.002, Contact: 0.002}
	byHand := Doubt{Gain: 0.0005, Leads: 0.002, Contact: 0.020}
	for _, c := range []struct {
		name               string
		before, after, off float64
		d                  Doubt
		want               Word
	}{
		{"load unplugged, short stays", 0.840, 0.842, 0, clipped, Acquitted},
		{"the same, held by hand", 0.840, 0.842, 0, byHand, CannotTell},
		{"converter output lifted", 0.842, 213, 0.85, clipped, Convicted},
		{"lifted but never read by itself", 0.842, 213, 0, clipped, CannotTell},
		{"lifted, healthy by itself", 0.842, 213, 480, clipped, CannotTell},
		{"open after the lift", 0.842, math.Inf(1), 0.85, clipped, Convicted},
	} {
		l, err := Compare(c.before, c.after, c.d)
		if err != nil {
			t.Fatal(err)
		}
		if word, why := l.Judge(c.off, 5); word != c.want {
			t.Errorf("%s: %s (%s), want %s", c.name, word, why, c.want)
		}
	}
}

// What left is a part of the conductance: no sign, no digits that the scatter
// hides, and bounds that printing does not narrow.
func TestSharesAreSaidPlainly(t *testing.T) {
	for _, c := range []struct {
		share, low, high float64
		want             string
	}{
		{-0.000474, -0.0083, 0.0078, "no more than 0.78 % of the conductance left: what was lifted does not carry the short"},
		{0.00462, -0.0037, 0.01291, "no more than 1.3 % of the conductance left: what was lifted does not carry the short"},
		{0.02, 0.01234, 0.02766, "2 % of the conductance left (1.2 to 2.8 %): what was lifted does not carry the short"},
		{-0.05, -0.06, -0.04, "no measurable part of the conductance left: what was lifted does not carry the short"},
		{0.1, -0.1, 0.3, "no more than 30 % of the conductance left: the contact scatter hides it; clip the leads, or use four wires"},
		{0.99944, 0.99112, 1.0078, "99.9 % of the conductance left (99.1 to 100 %), and by itself it reads 0.85 Ω"},
	} {
		_, why := Lift{Share: c.share, ShareLow: c.low, ShareHigh: c.high}.Judge(0.85, 5)
		if why = strings.ReplaceAll(why, "\u00a0", " "); why != c.want {
			t.Errorf("%g (%g to %g): %q, want %q", c.share, c.low, c.high, why, c.want)
		}
	}
}

func TestCompareRefuses(t *testing.T) {
	for _, c := range [][2]float64{{0, 1}, {-1, 1}, {1, 0}, {math.NaN(), 1}, {1, math.NaN()}, {math.Inf(1), 1}} {
		if _, err := Compare(c[0], c[1], Doubt{}); !errors.Is(err, ErrReading) {
			t.Errorf("Compare(%g, %g) gave %v", c[0], c[1], err)
		}
	}
}

// TestMoreDoubtNeverDecides: more scatter may turn a word into "cannot tell",
// never one conviction or acquittal into the other or out of nothing.
func TestMoreDoubtNeverDecides(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		before := rapid.Float64Range(0.05, 50).Draw(t, "before")
		after := before * rapid.Float64Range(1, 1000).Draw(t, "ratio")
		d := Doubt{Contact: rapid.Float64Range(1e-4, 0.1).Draw(t, "contact")}
		more := d
		more.Contact *= rapid.Float64Range(1, 10).Draw(t, "more")
		a, _ := Compare(before, after, d)
		b, _ := Compare(before, after, more)
		wa, _ := a.Judge(1, 5)
		wb, _ := b.Judge(1, 5)
		if wb != CannotTell && wb != wa {
			t.Fatalf("%s became %s with more doubt", wa, wb)
		}
	})
}

// Before the lift it is said what it could tell; a rise is no lift's doing.
func TestCouldAndChanged(t *testing.T) {
	if say := Could(0.30, Doubt{Contact: 0.020}); say != "a lift can tell a branch only below 0.97 Ω; use four wires, or walk the short" {
		t.Error(say)
	}
	if say := Could(100, Doubt{Contact: 0.020}); !strings.Contains(say, "every branch below") {
		t.Error(say)
	}
	l, err := Compare(10, 0.5, Doubt{Gain: 0.002, Leads: 0.003, Contact: 0.02})
	if err != nil {
		t.Fatal(err)
	}
	if w, say := l.Judge(0.3, 5); w != Changed || !strings.Contains(say, "something else changed") {
		t.Errorf("%s: %s", w, say)
	}
	l, _ = Compare(0.30, 0.297, Doubt{Gain: 0.002, Leads: 0.003, Contact: 0.02}) // within the scatter
	if w, _ := l.Judge(0, 5); w == Changed {
		t.Error("a rise within the scatter is taken for a change")
	}
}
