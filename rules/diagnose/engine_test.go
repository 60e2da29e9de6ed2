package diagnose

import (
	"errors"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func weighed(t testing.TB, g *Engine, lines ...string) Result {
	t.Helper()
	log, bad := ParseLog(g.board, strings.Join(lines, "\n"))
	if bad != nil {
		t.Fatal(bad[0])
	}
	r, err := g.Weigh(log)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The posterior of a log, once more by plain multiplication over all
// explanations, without groups, logarithms or anything remembered.
func TestPosteriorByEnumeration(t *testing.T) {
	b := piano(t)
	g := New(b)
	lines := []string{"+5 V logic 0.84 ohm", "+12 V audio 240 ohm", "unplug CN3", "+5 V logic 0.85 ohm", "across PS2 0.1 ohm", "load logic board ok", "lift PS2", "+5 V logic 140 ohm"}
	log, _ := ParseLog(b, strings.Join(lines, "\n"))
	weight := make([]float64, len(g.list))
	var sum float64
	for i, x := range g.list {
		weight[i] = g.prior[i]
		var off stand
		for _, e := range log {
			if off = off.after(e); e.Verb != "" {
				continue
			}
			w := b.weigh(e)
			foreseen := b.predict(e.At, x.Faults, off)
			var like float64
			for c := range w {
				p := 1 / float64(len(w))
				if !x.Other {
					p = 0.98*foreseen[c] + 0.02/float64(len(w))
				}
				like += p * w[c]
			}
			weight[i] *= like
		}
		sum += weight[i]
	}
	other := max(0.05, weight[len(weight)-1]/sum)
	rest := sum - weight[len(weight)-1]
	for _, r := range weighed(t, g, lines...).Ranked {
		i := slices.IndexFunc(g.list, func(x Explanation) bool { return x.Other == r.Other && slices.Equal(x.Faults, r.Faults) })
		want := weight[i] / rest * (1 - other)
		if r.Other {
			want = other
		}
		if math.Abs(r.P-want) > 1e-9 {
			t.Fatalf("%s: %.12f, enumerated %.12f", r.Say, r.P, want)
		}
	}
}

// Whatever is entered, probabilities add up, nothing is above 99 %, what is not
// on the sheet keeps 5 %, and no step is unsafe or made already.
func TestBounds(t *testing.T) {
	b := piano(t)
	g := New(b)
	lines := []string{"+5 V logic 0.84 ohm", "+5 V logic 140 ohm", "+5 V logic open", "+5 V logic 0 V", "+5 V logic 5.01 V hot", "+12 V audio restarting",
		"set says -12 V audio", "source +5 V logic ok", "load logic board not ok", "enable PS2 missing", "across PS2 open", "behind CN3 there", "-12 V audio -12.1 V"}
	rapid.Check(t, func(rt *rapid.T) {
		r := weighed(t, g, rapid.SliceOfN(rapid.SampledFrom(lines), 0, 8).Draw(rt, "log")...)
		var sum float64
		for _, x := range r.Ranked {
			sum += x.P
			if x.P > MostSure || x.Other && x.P < LeastOther-1e-12 || math.IsNaN(x.P) {
				rt.Fatalf("%s has %g", x.Say, x.P)
			}
		}
		if math.Abs(sum-1) > 1e-9 {
			rt.Fatalf("they add up to %g", sum)
		}
	})
}

// Power is never asked for beside a short or before the ohms were read, and
// what was measured is not asked for again.
func TestStepsAreSafeAndNew(t *testing.T) {
	b := piano(t)
	g := New(b)
	under := func(lines ...string) (live, again bool) {
		log, bad := ParseLog(b, strings.Join(lines, "\n"))
		if bad != nil {
			t.Fatal(bad[0])
		}
		for _, s := range g.Steps(log) {
			live = live || s.Do == "" && slices.Contains([]Where{Volts, Enabled, Behind, SourceAlone}, s.At.Where)
			again = again || s.Do == "" && s.At == Point{Where: Ohms, Subject: "+5 V logic"}
		}
		return live, again
	}
	clear := []string{"+18 V raw 4 kohm", "-18 V raw 9 kohm", "+12 V audio 240 ohm", "-12 V audio 250 ohm", "+3.3 V DSP 75 ohm"}
	for _, c := range []struct {
		name        string
		lines       []string
		live, again bool
	}{
		{"nothing read", nil, false, true},
		{"one rail not read", clear, false, true},
		{"all clear", append(clear[:5:5], "+5 V logic 110 ohm"), true, false},
		{"one short", append(clear[:5:5], "+5 V logic 0.8 ohm"), false, false},
		{"short lifted, not read again", append(clear[:5:5], "+5 V logic 0.8 ohm", "lift C104"), false, true},
		{"short lifted and read", append(clear[:5:5], "+5 V logic 0.8 ohm", "lift C104", "+5 V logic 110 ohm"), true, false},
		{"put back", append(clear[:5:5], "+5 V logic 0.8 ohm", "lift C104", "+5 V logic 110 ohm", "put back C104"), false, false},
	} {
		if live, again := under(c.lines...); live != c.live || again != c.again {
			t.Errorf("%s: power %t, again %t; want %t, %t", c.name, live, again, c.live, c.again)
		}
	}
}

func TestContradictionsAreNamed(t *testing.T) {
	g := New(piano(t))
	r := weighed(t, g, "+12 V audio 240 ohm", "+5 V logic 0.84 ohm", "+3.3 V DSP 75 ohm", "+5 V logic 110 ohm")
	if len(r.Contradictions) != 1 || !slices.Equal(r.Contradictions[0].Entries, []int{2, 4}) || !slices.Equal(r.Contradictions[0].Doubt, []int{2, 4}) {
		t.Errorf("%+v", r.Contradictions)
	}
	if r = weighed(t, g, "+5 V logic 0.84 ohm", "unplug CN3", "+5 V logic 110 ohm"); len(r.Contradictions) != 0 {
		t.Errorf("%+v", r.Contradictions)
	}
}

// An indication moves the order while nothing is measured, by two to one, and
// never against a measured rail.
func TestIndications(t *testing.T) {
	g := New(piano(t))
	p := func(r Result, part string) float64 {
		i := slices.IndexFunc(r.Ranked, func(x Ranked) bool { return len(x.Faults) == 1 && x.Faults[0] == Fault{part, GivesNothing} })
		return r.Ranked[i].P
	}
	said := weighed(t, g, "set says +12 V audio")
	if ratio := p(said, "PS1") / p(said, "PS3"); math.Abs(ratio-2) > 1e-9 {
		t.Errorf("an indication weighs %g to one", ratio)
	}
	with, without := weighed(t, g, "set says +12 V audio", "+12 V audio 12 V"), weighed(t, g, "+12 V audio 12 V")
	if p(with, "PS1") != p(without, "PS1") {
		t.Error("an indication speaks against a measured rail")
	}
}

func TestTwoByTwo(t *testing.T) {
	g := New(piano(t))
	r := weighed(t, g, "source +5 V logic ok", "load logic board not ok")
	if len(r.TwoByTwo) != 1 || !strings.Contains(r.TwoByTwo[0].Say, "Repair the load") {
		t.Errorf("%+v", r.TwoByTwo)
	}
}

func TestRefusedEntries(t *testing.T) {
	b := piano(t)
	for _, c := range []struct{ line, want string }{
		{"+5 V lagic 3 ohm", "names no rail"}, {"+5 V logic 3", "no reading"}, {"+5 V logic -3 ohm", "no reading"}, {"+5 V logic 3 ohm hot", "hot goes with volts"},
		{"lift R7", "no part that comes off"}, {"unplug CN3\nunplug CN3", "off already"}, {"put back CN3", "not off"}, {"alone C104 3 ohm", "lift it first"},
		{"load main logic perhaps", "no answer"}, {"across PS1 1 ohm", "no converter with an inductor"}, {"set says nothing", "no rail"}, {"\xff", "UTF-8"},
	} {
		log, bad := ParseLog(b, "# first\n"+c.line)
		if log != nil || len(bad) == 0 || !strings.Contains(bad[0].Error(), c.want) || !errors.Is(bad[0], ErrEntry) {
			t.Errorf("%q: %v, want %q", c.line, bad, c.want)
		}
	}
}

func FuzzParseLog(f *testing.F) {
	f.Add("+5 V logic 0.84 ohm ± 0.02 ohm\nunplug CN3\nlift C104\nalone C104 open\nput back C104 # so\n-12 V audio -12.1 V hot")
	f.Add("source +5 V logic not ok\nload audio board + ok\nenable PS4 missing\nacross PS2 0.1 ohm\nbehind CN5 there\nset says 3.3 V DSP")
	b := piano(f)
	f.Fuzz(func(t *testing.T, text string) {
		log, bad := ParseLog(b, text)
		if log != nil && bad != nil {
			t.Fatal("both a log and problems")
		}
		for _, e := range log {
			if e.Verb == "" && e.At.Where != Says {
				var sum float64
				for _, w := range b.weigh(e) {
					sum += w
				}
				if math.IsNaN(sum) || sum > 1+1e-9 {
					t.Fatalf("%q weighs %g", e.Text, sum)
				}
			}
		}
	})
}

// The example of the sheet in configs says the same as the board of these tests.
func TestExampleNamesTheBoard(t *testing.T) {
	text, err := os.ReadFile("../../configs/board.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, part := range New(piano(t)).board.removables() {
		if !strings.Contains(string(text), part) {
			t.Errorf("configs/board.yaml does not have %s", part)
		}
	}
}
