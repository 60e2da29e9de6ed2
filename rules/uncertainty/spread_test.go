package uncertainty_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// Half a limit from the edge a rectangular error is outside with 25 %, a normal
// one of the same variance with 19 %. [calculated: 1/4, and 1 - Φ(√3/2)]
func TestRectangularIsNotNormal(t *testing.T) {
	edge := capture.Bounds{Low: math.Inf(-1), High: 5.1}
	rect := uncertainty.Spread{Limits: [3]float64{0.05}}
	near(t, "rectangular", 1-rect.Conforms(5.075, edge), 0.25, 1e-12)
	near(t, "normal", 1-conformance(5.075, 0.05/math.Sqrt(3), edge), 0.193238, 1e-6)
	if rect.NormalAssumed() || !(uncertainty.Spread{Normal: 1}).NormalAssumed() || !(uncertainty.Spread{Limits: [3]float64{1}, Normal: 0.3}).NormalAssumed() {
		t.Error("normal assumed where it is not, or not where it is")
	}
}

// Two equal rectangles make a triangle: 1/8 beyond half of its half-width.
func TestTwoRectanglesMakeATriangle(t *testing.T) {
	near(t, "triangle", 1-uncertainty.Spread{Limits: [3]float64{1, 1}}.Below(1), 1.0/8, 1e-12)
	three := uncertainty.Spread{Limits: [3]float64{1, 1, 1}}
	near(t, "three, beyond 2", 1-three.Below(2), 1.0/48, 1e-12) // (3-2)³/(2³·3!)
}

// The closed form against a Monte Carlo of a million draws (seeded), for one,
// two and three rectangles with and without a normal part.
func TestSpreadAgainstMonteCarlo(t *testing.T) {
	const draws = 400_000
	for _, s := range []uncertainty.Spread{
		{Limits: [3]float64{1}}, {Limits: [3]float64{1}, Normal: 0.3}, {Limits: [3]float64{1, 0.4}, Normal: 0.2}, {Limits: [3]float64{0.5, 0.4, 0.7}},
		{Limits: [3]float64{0, 0.4, 0.7}, Normal: 1}, {Limits: [3]float64{1, 0.01, 0.002}, Normal: 0.001}, {Normal: 0.5},
	} {
		rng := rand.New(rand.NewPCG(11, 7))
		at := []float64{-1.2, -0.7, 0, 0.5, 0.95, 1.3}
		count := make([]float64, len(at))
		for range draws {
			e := s.Normal * rng.NormFloat64()
			for _, a := range s.Limits {
				e += a * (2*rng.Float64() - 1)
			}
			for i, x := range at {
				if e <= x {
					count[i]++
				}
			}
		}
		for i, x := range at {
			p := s.Below(x)
			near(t, "Monte Carlo", count[i]/draws, p, 1e-6+5*math.Sqrt(p*(1-p)/draws))
		}
	}
}

// A rectangle so faint or so dominant that the form changes must not change the
// figure.
func TestSpreadHasNoSeams(t *testing.T) {
	for _, x := range []float64{-0.9, -0.2, 0, 0.4, 0.99} {
		for _, c := range [][2]uncertainty.Spread{
			{{Limits: [3]float64{1, 0.000999}, Normal: 0.2}, {Limits: [3]float64{1, 0.001001}, Normal: 0.2}},
			{{Limits: [3]float64{1, 0.3}, Normal: 0.99e-6}, {Limits: [3]float64{1, 0.3}, Normal: 1.01e-6}},
			{{Limits: [3]float64{1, 0.0011, 0.0011}, Normal: 1e-9}, {Limits: [3]float64{1}, Normal: 0.0009}},
		} {
			near(t, "seam", c[0].Below(x), c[1].Below(x), 3e-6)
		}
	}
}

// Far out in the upper tail nothing is left to lose: rectangles of a thousandth of
// the normal part made the sum of the corners 6e-4 too small there.
func TestFarOutIsCertain(t *testing.T) {
	for _, a := range []float64{0.001, 0.009, 0.011, 0.1} {
		s := uncertainty.Spread{Limits: [3]float64{a, a, a}, Normal: 1}
		for _, x := range []float64{10, 20, 32.8125, 39} {
			if up, down := s.Below(x), s.Below(-x); up != 1 || down > 1e-20 {
				t.Errorf("half-widths of %g: at most %g with %g, at most %g with %g", a, x, up, -x, down)
			}
		}
		near(t, "middle", s.Below(0), 0.5, 1e-9)
	}
	for _, x := range []float64{-3, -1, -0.2} { // across the seam between the two forms
		under := uncertainty.Spread{Limits: [3]float64{0.00999, 0.00999, 0.00999}, Normal: 1}
		above := uncertainty.Spread{Limits: [3]float64{0.01001, 0.01001, 0.01001}, Normal: 1}
		near(t, "seam", under.Below(x), above.Below(x), 2e-7)
	}
}

func TestConformanceIsAProbability(t *testing.T) {
	b := capture.Bounds{Low: 4.9, High: 5.1}
	rapid.Check(t, func(t *rapid.T) {
		part := func(name string) float64 {
			return rapid.SampledFrom([]float64{0, 1e-6, 0.001, 0.02, 0.07, 0.4}).Draw(t, name)
		}
		s := uncertainty.Spread{Limits: [3]float64{part("limit"), part("count"), part("drift")}, Normal: part("normal")}
		far, closer := rapid.Float64Range(0, 0.4).Draw(t, "from the middle"), rapid.Float64Range(0, 1).Draw(t, "closer")
		p, q := s.Conforms(5+far, b), s.Conforms(5+far*closer, b)
		if p < 0 || q > 1 || math.IsNaN(p+q) || q < p-1e-9 {
			t.Fatalf("%+v: %g from the middle %g, %g from it %g", s, far, p, far*closer, q)
		}
		if m := s.Conforms(5-far, b); math.Abs(m-p) > 1e-7 {
			t.Fatalf("%+v: %g above the middle %g, below it %g", s, far, p, m)
		}
	})
}

// risks integrates a prior density over all true values: what is accepted and
// does not conform (consumer's), what conforms and is not accepted (producer's).
func risks(prior func(float64) float64, from, to float64, tolerance, accept capture.Bounds, um float64) (consumer, producer float64) {
	integrate := func(lo, hi float64, f func(float64) float64) float64 {
		const n = 4000
		sum, h := 0.0, (hi-lo)/n
		for i := 0; i <= n; i++ {
			w := 2 + 2*float64(i%2)
			if i == 0 || i == n {
				w = 1
			}
			sum += w * f(lo+float64(i)*h)
		}
		return sum * h / 3
	}
	accepted := func(v float64) float64 { return uncertainty.Spread{Normal: um}.Conforms(v, accept) }
	out := func(v float64) float64 { return prior(v) * accepted(v) }
	if tolerance.HasLow() && tolerance.Low > from {
		consumer += integrate(from, tolerance.Low, out)
	}
	consumer += integrate(tolerance.High, to, out)
	return consumer, integrate(max(from, tolerance.Low), tolerance.High, func(v float64) float64 { return prior(v) * (1 - accepted(v)) })
}

func normalPrior(mean, sd float64) func(float64) float64 {
	return func(v float64) float64 {
		z := (v - mean) / sd
		return math.Exp(-z*z/2) / sd / math.Sqrt(2*math.Pi)
	}
}

// JCGM 106:2012, 9.5.4 and the tables of the Z540.3 literature: their risks come
// out when the probability of acceptance is taken from here.
func TestRisksAsPublished(t *testing.T) {
	var ref struct {
		Jcgm struct {
			Ball map[string]any `json:"ball_bearing_example"`
			Res  struct {
				Grid []struct {
					AL float64 `json:"A_L"`
					AU float64 `json:"A_U"`
					C  float64 `json:"consumer_risk"`
					P  float64 `json:"producer_risk"`
				} `json:"grid"`
			} `json:"resistor_example"`
			Z struct {
				Rows []struct {
					P float64 `json:"p_c_at_least"`
					Z float64 `json:"z"`
				} `json:"rows"`
			} `json:"one_sided_z_table"`
		} `json:"jcgm106"`
		Ilac struct {
			Rows []struct {
				W  string  `json:"w"`
				K2 float64 `json:"pfa_k2"`
			} `json:"guard_band_table"`
		} `json:"ilac_g8"`
		Tur struct {
			Table struct {
				Rows [][]float64 `json:"published"`
			} `json:"table_measurement_sd_equal_process_sd_over_4"`
			Four []struct {
				In  float64 `json:"in_tolerance_probability"`
				Pfa float64 `json:"pfa"`
				Pfr float64 `json:"pfr"`
			} `json:"tur4_u95_eq_T_over_4"`
			Deaver struct {
				Cases []struct {
					Tol      float64 `json:"tolerance_in_process_sd"`
					Ratio    float64 `json:"process_sd_over_test_sd"`
					Fraction float64 `json:"acceptance_limit_fraction"`
					Pfa      float64 `json:"pfa"`
					Pfr      float64 `json:"pfr"`
				} `json:"cases"`
			} `json:"deaver"`
		} `json:"tur"`
	}
	text, err := os.ReadFile("../../testdata/reference/uncertainty/conformity_decision_rules.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &ref); err != nil {
		t.Fatal(err)
	}
	upper := capture.Bounds{Low: math.Inf(-1), High: 0}
	for _, r := range ref.Jcgm.Z.Rows { // 7.3, table 1: z to two decimals
		near(t, "one-sided", conformance(-r.Z, 1, upper), r.P, 0.0021)
	}
	guard := map[string]float64{"3 U": 3, "1.5 U": 1.5, "1 U": 1, "0.83 U": 0.83, "0": 0}
	rows := 0
	for _, r := range ref.Ilac.Rows {
		if w, listed := guard[r.W]; listed {
			rows++
			near(t, "ILAC-G8, w = "+r.W, 1-conformance(-2*w, 1, upper), r.K2, 1e-9)
		}
	}
	if rows != len(guard) || len(ref.Jcgm.Z.Rows) != 5 || len(ref.Jcgm.Res.Grid) != 5 || len(ref.Tur.Table.Rows) != 6 || len(ref.Tur.Four) != 4 || len(ref.Tur.Deaver.Cases) != 3 {
		t.Fatalf("the reference was not read: %d rows of ILAC-G8", rows)
	}
	for _, g := range ref.Jcgm.Res.Grid { // 1500 Ω ± 0.2 Ω
		c, p := risks(normalPrior(1500, 0.12), 1498.8, 1501.2, capture.Bounds{Low: 1499.8, High: 1500.2}, capture.Bounds{Low: g.AL, High: g.AU}, 0.04)
		near(t, "resistor, consumer's", c, g.C, 2e-6)
		near(t, "resistor, producer's", p, g.P, 2e-6)
	}
	gamma := func(v float64) float64 { return math.Pow(4, 4) / 6 * v * v * v * math.Exp(-4*v) }
	c, p := risks(gamma, 0, 10, capture.Bounds{Low: math.Inf(-1), High: 2}, capture.Bounds{Low: math.Inf(-1), High: 2}, 0.25)
	near(t, "ball bearing, consumer's", c, ref.Jcgm.Ball["consumer_risk_at_A_U_2"].(float64), 1e-6)
	near(t, "ball bearing, producer's", p, ref.Jcgm.Ball["producer_risk_at_A_U_2"].(float64), 1e-6)
	both := func(in float64) capture.Bounds {
		half := math.Sqrt2 * math.Erfinv(in)
		return capture.Bounds{Low: -half, High: half}
	}
	for _, r := range ref.Tur.Table.Rows {
		c, _ := risks(normalPrior(0, 1), -10, 10, both(r[0]), both(r[0]), 0.25)
		near(t, "Z540.3, false acceptance", 100*c, r[1], 2e-6)
	}
	within := func(half float64) capture.Bounds { return capture.Bounds{Low: -half, High: half} }
	for _, r := range ref.Tur.Deaver.Cases { // printed to two digits
		accept := r.Tol
		if r.Fraction > 0 {
			accept *= r.Fraction
		}
		c, p := risks(normalPrior(0, 1), -10, 10, within(r.Tol), within(accept), 1/r.Ratio)
		near(t, "Deaver, false acceptance", c, r.Pfa, 0.0006)
		if r.Pfr > 0 {
			near(t, "Deaver, false rejection", p, r.Pfr, 0.0006)
		}
	}
	for _, r := range ref.Tur.Four {
		c, p := risks(normalPrior(0, 1), -10, 10, both(r.In), both(r.In), both(r.In).High/8)
		near(t, "4:1, false acceptance", c, r.Pfa, 1e-7)
		near(t, "4:1, false rejection", p, r.Pfr, 1e-7)
	}
}
