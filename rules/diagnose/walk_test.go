package diagnose

import (
	"cmp"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
)

// walk lets the world be measured, asking by choose, until one explanation is
// sure enough or nothing is left to ask.
func walk(t testing.TB, g *Engine, w *world, before []string, choose func(*Engine, Result, []Entry) *Step) (Result, []string, int) {
	t.Helper()
	lines := slices.Clone(before)
	for n := 0; ; n++ {
		log, bad := ParseLog(g.board, strings.Join(lines, "\n"))
		if bad != nil {
			t.Fatalf("%v", bad[0])
		}
		r, err := g.Weigh(log)
		if err != nil {
			t.Fatal(err)
		}
		step := choose(g, r, log)
		if r.Ranked[0].P >= 0.9 || step == nil || len(lines) > 50 {
			return r, lines, n
		}
		lines = append(lines, w.act(*step)...)
	}
}

func asked(_ *Engine, r Result, _ []Entry) *Step { return r.Next }

// checklist is the fixed order: all that can be read without a tool first, then
// what is unplugged, then what is lifted, and the heat last.
func checklist(g *Engine, _ Result, log []Entry) *Step {
	order := func(s Step) int {
		rank := slices.Index([]Where{Ohms, Volts, Enabled, Across, Behind, LoadAlone, SourceAlone, Alone}, s.At.Where)
		if s.At.Hot {
			rank += 60
		}
		if m, _ := g.board.removable(s.Part); s.Do == Remove {
			rank += 10 + int(10*m)
		}
		if s.Do == PutBack {
			rank += 9
		}
		return rank
	}
	var removed bool
	for _, e := range log {
		removed = removed || e.Verb == PutBack
	}
	steps := slices.DeleteFunc(g.Steps(log), func(s Step) bool { return s.Do == PutBack && removed })
	if len(steps) == 0 {
		return nil
	}
	s := slices.MinFunc(steps, func(a, b Step) int { return cmp.Compare(order(a), order(b)) })
	return &s
}

func same(x Explanation, truth []Fault) bool {
	return !x.Other && len(x.Faults) == len(truth) && !slices.ContainsFunc(truth, func(f Fault) bool { return !slices.Contains(x.Faults, f) })
}

// without is what a repair leaves, when it was of something that was wrong.
func without(truth, repaired []Fault) []Fault {
	if len(repaired) == 0 || len(truth) < 2 {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(truth), func(f Fault) bool { return slices.Contains(repaired, f) })
}

var invented = []struct {
	name   string
	faults []Fault
	says   string
}{
	{"shorted load", []Fault{{"logic board", Shorted}}, ""},
	{"shorted capacitor", []Fault{{"C104", Shorted}}, ""},
	{"leaky capacitor", []Fault{{"C104", Leaky}}, ""},
	{"converter output short", []Fault{{"PS2", Shorted}}, ""},
	{"open inductor", []Fault{{"PS2", InductorOpen}}, ""},
	{"missing enable", []Fault{{"PS4", NotEnabled}}, ""},
	{"sagging input", []Fault{{"BR1", Sags}}, ""},
	{"overload restarts", []Fault{{"logic board", Overloads}}, ""},
	{"weak converter", []Fault{{"PS1", Weak}}, ""},
	{"thermal intermittent", []Fault{{"PS2", StopsHot}}, ""},
	{"two faults at once", []Fault{{"C104", Shorted}, {"PS3", GivesNothing}}, ""},
	{"healthy board", nil, ""},
	{"wrong indication", []Fault{{"PS2", Shorted}}, "set says +12 V audio"},
	{"open connector", []Fault{{"CN5", ConnectorOpen}}, ""},
	{"source gone", []Fault{{"BR2", GivesNothing}}, ""},
}

// Every invented fault is walked through with nothing but what is asked for.
func TestInventedFaults(t *testing.T) {
	b := piano(t)
	g := New(b)
	var missed []string
	var meters, fixed, minutes, fixedMinutes float64
	for i, c := range invented {
		var before []string
		if c.says != "" {
			before = []string{c.says}
		}
		r, lines, n := walk(t, g, newWorld(b, uint64(i), c.faults...), before, asked)
		rf, _, nf := walk(t, g, newWorld(b, uint64(i), c.faults...), before, checklist)
		t.Logf("%-24s %2d measurements %5.1f min (fixed order %2d, %5.1f min): %.2f %s", c.name, n, r.Minutes, nf, rf.Minutes, r.Ranked[0].P, r.Ranked[0].Say)
		meters, fixed = meters+float64(n), fixed+float64(nf)
		minutes, fixedMinutes = minutes+r.Minutes, fixedMinutes+rf.Minutes
		if left := without(c.faults, r.Ranked[0].Faults); len(left) == 1 {
			again, _, _ := walk(t, g, newWorld(b, uint64(i), left...), nil, asked)
			if !same(again.Ranked[0].Explanation, left) {
				t.Errorf("%s: after the first repair %s", c.name, again.Ranked[0].Say)
			}
		}
		if !same(r.Ranked[0].Explanation, c.faults) {
			missed = append(missed, c.name+":\n  "+strings.Join(lines, "\n  "))
		}
	}
	n := float64(len(invented))
	t.Logf("mean %.1f measurements and %.1f min, fixed order %.1f and %.1f min", meters/n, minutes/n, fixed/n, fixedMinutes/n)
	if len(missed) > 1 {
		t.Errorf("%d of %d not first:\n%s", len(missed), len(invented), strings.Join(missed, "\n"))
	}
	if minutes >= fixedMinutes {
		t.Error("asking takes longer than the fixed order")
	}
}

// drawn draws what is wrong as the priors have it: mostly one fault.
func drawn(b Board, r *rand.Rand) (faults []Fault, bridged bool) {
	all := b.Faults()
	one := func() Fault { return all[r.IntN(len(all))] }
	switch p := r.Float64(); {
	case p < priorNone:
		return nil, false
	case p < priorNone+priorOther:
		return nil, true
	case p < priorNone+priorOther+priorPair:
		f := one()
		for {
			if e := one(); e.Part != f.Part {
				return []Fault{f, e}, false
			}
		}
	}
	return []Fault{one()}, false
}

// TestReliability holds what is said to be probable against what is so; over a
// thousand boards with STEADYRAIL_DIAGNOSE_ALL=1.
func TestReliability(t *testing.T) {
	n := 200
	if os.Getenv("STEADYRAIL_DIAGNOSE_ALL") != "" {
		n = 1000
	}
	if testing.Short() {
		n = 60
	}
	b := piano(t)
	g := New(b)
	r := rand.New(rand.NewPCG(20310312, 1))
	var bins [10]struct{ n, right, said float64 }
	var brier, first, asks float64
	for i := range n {
		faults, bridged := drawn(b, r)
		w := newWorld(b, r.Uint64(), faults...)
		if bridged {
			w.bridge, w.at = 2, [2]string{b.Rails[2].Name, b.Rails[3].Name}
		}
		res, _, k := walk(t, g, w, nil, asked)
		top := res.Ranked[0]
		right := 0.0
		if bridged == top.Other && (bridged || same(top.Explanation, faults)) {
			right = 1
		}
		bin := &bins[min(9, int(10*top.P))]
		bin.n, bin.right, bin.said = bin.n+1, bin.right+right, bin.said+top.P
		brier += (top.P - right) * (top.P - right)
		first, asks = first+right, asks+float64(k)
		if top.P > MostSure || res.Ranked[len(res.Ranked)-1].P < 0 {
			t.Fatalf("%d: probability %g", i, top.P)
		}
	}
	for i, x := range bins {
		if x.n > 0 {
			t.Logf("said %.1f to %.1f: %4.0f times, mean said %.3f, right %.3f", float64(i)/10, float64(i+1)/10, x.n, x.said/x.n, x.right/x.n)
		}
	}
	t.Logf("%d boards: true explanation first %.3f, Brier score %.4f, mean %.1f measurements", n, first/float64(n), brier/float64(n), asks/float64(n))
	sure := bins[9]
	if sure.n > 30 && math.Abs(sure.right/sure.n-sure.said/sure.n) > 0.08 {
		t.Errorf("said %.3f, right %.3f of %.0f", sure.said/sure.n, sure.right/sure.n, sure.n)
	}
}
