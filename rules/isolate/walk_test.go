package isolate

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// ladder is a trace of a given resistance per metre into which a current flows,
// with a short at a place and branches of load along it: nodes are solved in
// closed form from the far end (Ohm's law and Kirchhoff's).
func ladder(at []float64, short, perMetre, current float64) []Point {
	out := make([]Point, len(at))
	for i, x := range at {
		out[i] = Point{Name: string(rune('A' + i)), At: x, Volts: current * perMetre * math.Min(x, short), U: 5e-6}
	}
	return out
}

// Without noise the place is exact to a step of the search. The published case:
// 1 A along 0.4926 mΩ/mm drops 9.852 mV in 20 mm (copper, 35 µm, 1 mm wide).
func TestWalkShortClosedForm(t *testing.T) {
	at := []float64{0, 0.02, 0.04, 0.06, 0.08}
	if p := ladder(at, 1, 0.4926, 1); math.Abs(p[1].Volts-9.852e-3) > 1e-9 {
		t.Fatalf("the ladder drops %g V in 20 mm", p[1].Volts)
	}
	for _, c := range []struct {
		short   float64
		between string
	}{{0.03, "B C"}, {0.045, "C D"}, {0.071, "D E"}} {
		p, err := WalkShort(ladder(at, c.short, 0.4926, 1))
		if err != nil || p.Word != Found || !p.Distance || math.Abs(p.At-c.short) > 2e-4 || strings.Join(p.Between, " ") != c.between {
			t.Errorf("short at %g m: %+v, %v", c.short, p, err)
		}
		if p.Low > c.short || p.High < c.short {
			t.Errorf("short at %g m: interval %g to %g", c.short, p.Low, p.High)
		}
	}
	if p, err := WalkShort(ladder(at, 0.012, 0.4926, 1)); err != nil || strings.Join(p.Between, " ") != "A B" || p.Low > 0.012 || p.High < 0.012 || !strings.Contains(p.Say, "cannot be told") {
		t.Errorf("in the first stretch: %+v, %v", p, err)
	}
	if p, err := WalkShort(ladder(at, 0.3, 0.4926, 1)); err != nil || p.Word != Found || !strings.Contains(p.Say, "at E or beyond") {
		t.Errorf("beyond the last: %+v, %v", p, err)
	}
	if p, err := WalkShort(ladder(at, 0.05, 0.4926, 1e-4)); err != nil || p.Word != CannotTell {
		t.Errorf("a current too small: %+v, %v", p, err)
	}
}

// Over drawn noise the 95 % interval holds the place in about 95 of 100 walks.
func TestWalkShortCovers(t *testing.T) {
	r := rand.New(rand.NewPCG(20310312, 9))
	at := []float64{0, 0.015, 0.03, 0.045, 0.06, 0.075}
	const n = 600
	covered, wrong := 0, 0
	for range n {
		short := 0.02 + 0.05*r.Float64()
		points := ladder(at, short, 0.5, 0.3)
		for i := range points {
			points[i].U = 2e-4
			points[i].Volts += points[i].U * r.NormFloat64()
		}
		f := fit(points)
		if f.low <= short && short <= f.high {
			covered++
		}
		if p, err := WalkShort(points); err == nil && p.Word == Found && len(p.Between) == 2 {
			a, b := at[p.Between[0][0]-'A'], at[p.Between[1][0]-'A']
			if short < a || short > b && b != at[len(at)-1] {
				wrong++
			}
		}
	}
	if share := float64(covered) / n; share < 0.92 || share > 0.99 {
		t.Errorf("the interval held the place in %.3f of the walks", share)
	}
	if share := float64(wrong) / n; share > 0.06 {
		t.Errorf("named the wrong stretch in %.3f of the walks", share)
	}
	t.Logf("interval held in %.3f, wrong stretch in %.3f of %d walks", float64(covered)/n, float64(wrong)/n, n)
}

// A trace of several widths is judged by its order; so is one without distances.
func TestWalkShortByOrder(t *testing.T) {
	volts := []float64{0, 1e-3, 6e-3, 6.4e-3, 6.4e-3, 6.4e-3}
	wide := make([]Point, len(volts))
	for i, v := range volts {
		wide[i] = Point{Name: string(rune('A' + i)), At: 0.01 * float64(i), Volts: v, U: 5e-6}
	}
	p, err := WalkShort(wide)
	if err != nil || p.Word != Found || p.Distance || strings.Join(p.Between, " ") != "C D" || !strings.Contains(p.Say, "not of one width") {
		t.Errorf("%+v, %v", p, err)
	}
	for i := range wide {
		wide[i].At = 0
	}
	if p, err = WalkShort(wide); err != nil || strings.Join(p.Between, " ") != "C D" {
		t.Errorf("by order: %+v, %v", p, err)
	}
	gap := slices.Clone(wide)
	gap[1].Volts = 0
	if p, err = WalkShort(gap); err != nil || p.Word != CannotTell || !strings.Contains(p.Say, "another way") {
		t.Errorf("a gap: %+v, %v", p, err)
	}
	back := slices.Clone(wide)
	back[4].Volts = 2e-3
	if p, err = WalkShort(back); err != nil || p.Word != CannotTell {
		t.Errorf("volts that turn: %+v, %v", p, err)
	}
}

func TestWalkShortRefuses(t *testing.T) {
	good := ladder([]float64{0, 0.02, 0.04}, 0.03, 0.5, 1)
	for name, spoil := range map[string]func([]Point) []Point{
		"two points": func(p []Point) []Point { return p[:2] }, "no points": func([]Point) []Point { return nil },
		"backwards": func(p []Point) []Point { p[2].At = 0.01; return p }, "no uncertainty": func(p []Point) []Point { p[1].U = 0; return p },
		"not a number": func(p []Point) []Point { p[1].Volts = math.NaN(); return p },
	} {
		if _, err := WalkShort(spoil(slices.Clone(good))); !errors.Is(err, ErrWalk) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Whatever is read, the answer is an error, cannot tell, or points of the walk.
func TestWalkShortNeverInvents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 8).Draw(t, "n")
		points := make([]Point, n)
		for i := range points {
			points[i] = Point{Name: string(rune('A' + i)), At: float64(i) * rapid.SampledFrom([]float64{0, 0.01}).Draw(t, "step"), Volts: rapid.Float64Range(-1, 1).Draw(t, "v"), U: rapid.Float64Range(1e-7, 1e-2).Draw(t, "u")}
		}
		p, err := WalkShort(points)
		switch {
		case err != nil:
		case p.Word == CannotTell && p.Say != "":
		case p.Word == Found && len(p.Between) == 2 && p.Between[0] < p.Between[1]:
		default:
			t.Fatalf("%+v", p)
		}
	})
}
