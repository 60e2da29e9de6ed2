package diagnose

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// published holds testdata/reference/diagnosis/model_based_diagnosis.json.
type published struct {
	Polybox struct {
		Inputs, Observed map[string]int
		Conflicts        [][]string            `json:"minimal_conflicts"`
		Diagnoses        [][]string            `json:"minimal_diagnoses"`
		After            map[string][][]string `json:"after_measuring"`
		Ranking          struct {
			Over  map[string]float64 `json:"over_minimal_diagnoses"`
			Bits  map[string]float64 `json:"expected_information_bits"`
			Best  string             `json:"best_next_point"`
			Parts map[string]float64 `json:"part_fault_posterior_weak_model"`
		} `json:"ranking_with_prior_0_01"`
	}
	Hitting struct {
		Cases []struct {
			Family  [][]any `json:"family"`
			Minimal [][]any `json:"minimal_hitting_sets"`
		}
	} `json:"hitting_sets"`
	Adder struct {
		Inputs    []int
		Conflicts [][]string `json:"minimal_conflicts"`
		Diagnoses [][]string `json:"minimal_diagnoses"`
	} `json:"full_adder"`
	Entropy struct {
		Cases []struct {
			H          float64            `json:"H_bits"`
			Half       float64            `json:"half_split_remaining_bits"`
			One        float64            `json:"one_against_seven_remaining_bits"`
			P          map[string]float64 `json:"probabilities"`
			Alone      float64            `json:"test_C1_alone_gain"`
			Both       float64            `json:"test_C1_C2_together_gain"`
			Hypotheses int
		}
	} `json:"entropy_next_measurement"`
	Removal struct {
		One        float64 `json:"one_of_six_gain_bits"`
		Half       float64 `json:"half_gain_bits"`
		WorstHalf  int     `json:"worst_case_tests_half_split"`
		WorstByOne int     `json:"worst_case_tests_one_by_one"`
	} `json:"short_on_rail_by_removal"`
}

func reference(t *testing.T) published {
	t.Helper()
	text, err := os.ReadFile("../../testdata/reference/diagnosis/model_based_diagnosis.json")
	if err != nil {
		t.Fatal(err)
	}
	var p published
	if err := json.Unmarshal(text, &p); err != nil {
		t.Fatal(err)
	}
	return p
}

// named turns lists of names into sets and back into sorted words.
func named(names []string, family [][]string) []Set {
	var out []Set
	for _, list := range family {
		var s Set
		for _, n := range list {
			s |= SetOf(slices.Index(names, n))
		}
		out = append(out, s)
	}
	return out
}

func sameFamily(a, b []Set) bool {
	a, b = slices.Clone(a), slices.Clone(b)
	slices.Sort(a)
	slices.Sort(b)
	return slices.Equal(a, b)
}

var polyParts = []string{"M1", "M2", "M3", "A1", "A2"}

// polybox tells whether the parts outside bad, all working, go with what was
// seen: every wire is tried over a range, so nothing of the package is used.
func polyboxAgrees(p published, bad Set, seen map[string]int) bool {
	in := p.Polybox.Inputs
	works := func(n int) bool { return bad&SetOf(n) == 0 }
	fits := func(wire string, v int) bool { want, is := seen[wire]; return !is || want == v }
	for x := range 25 {
		for y := range 25 {
			for z := range 25 {
				good := fits("X", x) && fits("Y", y) && fits("Z", z)
				good = good && (!works(0) || x == in["A"]*in["C"]) && (!works(1) || y == in["B"]*in["D"]) && (!works(2) || z == in["C"]*in["E"])
				good = good && (!works(3) || seen["F"] == x+y) && (!works(4) || seen["G"] == y+z)
				if good {
					return true
				}
			}
		}
	}
	return false
}

// candidates lists all sets of bad parts that agree.
func candidates(n int, agrees func(Set) bool) []Set {
	var out []Set
	for s := range Set(1) << n {
		if agrees(s) {
			out = append(out, s)
		}
	}
	return out
}

func TestPolybox(t *testing.T) {
	p := reference(t)
	all := candidates(5, func(s Set) bool { return polyboxAgrees(p, s, p.Polybox.Observed) })
	conflicts := HittingSets(all, 64)
	if !sameFamily(conflicts, named(polyParts, p.Polybox.Conflicts)) {
		t.Errorf("conflicts %b, want %v", conflicts, p.Polybox.Conflicts)
	}
	if got := HittingSets(conflicts, 64); !sameFamily(got, named(polyParts, p.Polybox.Diagnoses)) || !sameFamily(got, Minimal(all)) {
		t.Errorf("diagnoses %b, want %v", got, p.Polybox.Diagnoses)
	}
	for what, want := range p.Polybox.After {
		seen := map[string]int{"F": p.Polybox.Observed["F"], "G": p.Polybox.Observed["G"], what[:1]: int(what[2] - '0')}
		left := Minimal(candidates(5, func(s Set) bool { return polyboxAgrees(p, s, seen) }))
		if !sameFamily(left, named(polyParts, want)) {
			t.Errorf("%s: %b, want %v", what, left, want)
		}
	}
}

func adderAgrees(in []int, bad Set) bool {
	works := func(n int) bool { return bad&SetOf(n) == 0 }
	for w := range 8 { // X1, A1, A2
		x1, a1, a2 := w&1, w>>1&1, w>>2&1
		if (!works(0) || x1 == in[0]^in[1]) && (!works(1) || x1^in[2] == 1) && (!works(2) || a1 == in[0]&in[1]) &&
			(!works(3) || a2 == in[2]&x1) && (!works(4) || a1|a2 == 0) {
			return true
		}
	}
	return false
}

func TestFullAdder(t *testing.T) {
	p := reference(t)
	parts := []string{"X1", "X2", "A1", "A2", "O1"}
	conflicts := HittingSets(candidates(5, func(s Set) bool { return adderAgrees(p.Adder.Inputs, s) }), 64)
	if !sameFamily(conflicts, named(parts, p.Adder.Conflicts)) || !sameFamily(HittingSets(conflicts, 64), named(parts, p.Adder.Diagnoses)) {
		t.Errorf("conflicts %b, diagnoses %b", conflicts, HittingSets(conflicts, 64))
	}
}

func TestHittingSets(t *testing.T) {
	for _, c := range reference(t).Hitting.Cases {
		var names []string
		word := func(list [][]any) [][]string {
			var out [][]string
			for _, l := range list {
				var row []string
				for _, v := range l {
					text, _ := json.Marshal(v)
					row = append(row, string(text))
					if !slices.Contains(names, string(text)) {
						names = append(names, string(text))
					}
				}
				out = append(out, row)
			}
			return out
		}
		family, want := word(c.Family), word(c.Minimal)
		if got := HittingSets(named(names, family), 64); !sameFamily(got, named(names, want)) {
			t.Errorf("%v: %b, want %v", c.Family, got, c.Minimal)
		}
	}
}

// Against exhaustive search, with and without a limit of size.
func TestHittingSetsAgainstAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		family := rapid.SliceOfN(rapid.Map(rapid.Uint64Range(0, 255), func(u uint64) Set { return Set(u) }), 0, 7).Draw(t, "family")
		most := rapid.IntRange(1, 8).Draw(t, "most")
		all := candidates(8, func(h Set) bool {
			return h.size() <= most && !slices.ContainsFunc(family, func(f Set) bool { return f&h == 0 })
		})
		if got := HittingSets(family, most); !sameFamily(got, Minimal(all)) {
			t.Fatalf("%b, want %b", got, Minimal(all))
		}
	})
}

func near(a, b float64) bool { return math.Abs(a-b) < 1e-6 }

// sharp makes noise-free outcome distributions: explanation i shows outcome of[i].
func sharp(n int, of ...int) [][]float64 {
	var out [][]float64
	for _, c := range of {
		row := make([]float64, n)
		row[c] = 1
		out = append(out, row)
	}
	return out
}

func TestPolyboxRanking(t *testing.T) {
	r := reference(t).Polybox.Ranking
	names := []string{"M1", "A1", "M2+M3", "A2+M2"}
	prior, logL := make([]float64, 4), make([]float64, 4)
	for i, n := range names {
		bad := float64(strings.Count(n, "+") + 1)
		prior[i] = math.Pow(0.01, bad) * math.Pow(0.99, 5-bad)
	}
	p := Posterior(prior, logL)
	for i, n := range names {
		if want := r.Over[n]; math.Abs(p[i]-want) > 1e-4 {
			t.Errorf("%s: %g, want %g", n, p[i], want)
		}
	}
	// What each candidate makes of X, Y and Z: first, second or third value.
	for point, of := range map[string][]int{"X": {0, 1, 1, 1}, "Y": {0, 0, 1, 1}, "Z": {0, 0, 1, 0}} {
		if got := Gain(p, sharp(2, of...)); math.Abs(got-r.Bits[point]) > 1e-6 {
			t.Errorf("%s: %.7f bit, want %.6f", point, got, r.Bits[point])
		}
	}
	if r.Best != "X" || r.Bits["X"] < r.Bits["Y"] {
		t.Error("the reference no longer calls X best")
	}
}

// Posteriors of single parts over all consistent sets of bad parts.
func TestPolyboxParts(t *testing.T) {
	p := reference(t)
	all := candidates(5, func(s Set) bool { return polyboxAgrees(p, s, p.Polybox.Observed) })
	prior := make([]float64, len(all))
	for i, s := range all {
		prior[i] = math.Pow(0.01, float64(s.size())) * math.Pow(0.99, float64(5-s.size()))
	}
	post := Posterior(prior, make([]float64, len(all)))
	for n, part := range polyParts {
		var sum float64
		for i, s := range all {
			if s&SetOf(n) != 0 {
				sum += post[i]
			}
		}
		if want := p.Polybox.Ranking.Parts[part]; math.Abs(sum-want) > 1e-7 {
			t.Errorf("%s: %.8f, want %.8f", part, sum, want)
		}
	}
}

func TestEntropies(t *testing.T) {
	p := reference(t)
	eight, four := p.Entropy.Cases[0], p.Entropy.Cases[1]
	equal := []float64{.125, .125, .125, .125, .125, .125, .125, .125}
	parts := []float64{four.P["C1"], four.P["C2"], four.P["U1"], four.P["D1"]}
	sixth := []float64{1. / 6, 1. / 6, 1. / 6, 1. / 6, 1. / 6, 1. / 6}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"eight equal", Entropy(equal), eight.H},
		{"half split", eight.H - Gain(equal, sharp(2, 0, 0, 0, 0, 1, 1, 1, 1)), eight.Half},
		{"one against seven", eight.H - Gain(equal, sharp(2, 0, 1, 1, 1, 1, 1, 1, 1)), eight.One},
		{"four", Entropy(parts), four.H},
		{"C1 alone", Gain(parts, sharp(2, 0, 1, 1, 1)), four.Alone},
		{"C1 and C2", Gain(parts, sharp(2, 0, 0, 1, 1)), four.Both},
		{"one of six", Gain(sixth, sharp(2, 0, 1, 1, 1, 1, 1)), p.Removal.One},
		{"half of six", Gain(sixth, sharp(2, 0, 0, 0, 1, 1, 1)), p.Removal.Half},
	} {
		if !near(c.got, c.want) {
			t.Errorf("%s: %.7f, want %.7f", c.name, c.got, c.want)
		}
	}
}
