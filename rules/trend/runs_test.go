package trend_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"steadyrail/rules/trend"
)

// change is statistics/drift_and_change.json.
type change struct {
	Kendall struct {
		Result struct {
			N   int
			S   float64
			Var float64 `json:"var_S_tie_corrected"`
			Z   float64 `json:"z_continuity"`
			P   float64 `json:"p_two_sided"`
			Tau float64 `json:"tau_b"`
		}
		Tied int `json:"tied_pairs"`
	} `json:"mann_kendall"`
	Length struct {
		Steady  float64 `json:"shewhart_3_sigma_in_control"`
		Shifted float64 `json:"shewhart_1_sigma_shift"`
	} `json:"arl"`
	Western  struct{ Rules []string } `json:"western_electric"`
	Nelson   struct{ Rules []string }
	Settling struct {
		Cases []struct {
			F    float64
			Taus float64 `json:"tau_multiples"`
		}
		Three struct {
			Example struct {
				T1, T2, T3 float64
				End        float64 `json:"T_inf"`
				Tau        float64 `json:"tau_over_dt"`
			}
		} `json:"three_equal_interval_points"`
	} `json:"first_order_settling"`
}

func changes(t testing.TB) (c change) {
	t.Helper()
	fromJSON(t, "statistics/drift_and_change.json", &c)
	return c
}

// patterns are what each published rule draws, in standard deviations: broken with
// its last point, and not without it. The same turned upside down is as well.
var patterns = map[string]struct {
	rule trend.RunRule
	z    []float64
}{
	"1 point beyond 3 sigma":                        {trend.BeyondThree, []float64{0.5, 2.9, 3.1}},
	"2 of 3 consecutive beyond 2 sigma on one side": {trend.TwoBeyondTwo, []float64{0, -2.1, 2.1, 0.3, 2.2}},
	"4 of 5 consecutive beyond 1 sigma on one side": {trend.FourBeyondOne, []float64{0, 1.1, 1.2, -1.4, 1.3, 1.1}},
	"8 consecutive on one side of the centre line":  {trend.EightOneSide, []float64{-.1, .1, .4, .2, .3, .6, .4, .7, .1}},
	"1: beyond 3 sigma":                             {trend.BeyondThree, []float64{-2.9, 2.9, 3.01}},
	"2: 9 in a row on one side":                     {trend.NineOneSide, []float64{-.1, .1, .4, .2, .3, .6, .4, .7, .1, .2}},
	"3: 6 in a row steadily rising or falling":      {trend.SixOneWay, []float64{0, -1, -.6, -.2, .1, .4, .9}},
	"4: 14 in a row alternating":                    {trend.FourteenAlternating, []float64{.9, 0, .1, 0, .1, 0, .1, 0, .1, 0, .1, 0, .1, 0}},
	"5: 2 of 3 beyond 2 sigma, same side":           {trend.TwoBeyondTwo, []float64{2.1, -2.1, -2.3}},
	"6: 4 of 5 beyond 1 sigma, same side":           {trend.FourBeyondOne, []float64{1.1, 0.9, 1.2, 1.3, 1.1}},
	"7: 15 in a row within 1 sigma":                 {trend.FifteenWithin, []float64{1.1, .1, .2, -.9, .9, 0, .5, .5, .4, -.3, .2, .1, 0, .2, .5, -.8}},
	"8: 8 in a row outside 1 sigma on both sides":   {trend.EightOutside, []float64{.9, 1.1, -1.2, 1.1, 1.1, -1.5, -1.1, 1.3, 1.1}},
}

func TestRunRulesAsPublished(t *testing.T) {
	c := changes(t)
	rules := append(c.Western.Rules, c.Nelson.Rules...)
	if len(rules) != 12 {
		t.Fatalf("%d rules in the file", len(rules))
	}
	for _, text := range rules {
		p, known := patterns[text]
		if !known {
			t.Errorf("nothing here is %q", text)
			continue
		}
		for _, sign := range []float64{1, -1} {
			chart := trend.Runs{Target: 5, SD: 0.01}
			for i, z := range p.z {
				if got := chart.Add(5 + sign*0.01*z)[p.rule]; got != (i == len(p.z)-1) {
					t.Errorf("%s, sign %g: after point %d broken %v", text, sign, i+1, got)
				}
			}
		}
		if len(p.rule.String()) < 10 || strings.HasSuffix(p.rule.String(), ".") {
			t.Errorf("%s is told as %q", text, p.rule)
		}
	}
}

// How long a rule waits in a steady series: of one point beyond three deviations
// the published length, with a shift by one deviation too; of runs on one side and
// within one deviation what the theory of runs gives (Feller, An Introduction to
// Probability Theory, volume 1, XIII.7); of the four rules of Western Electric
// together 91.75 (Champ and Woodall, Technometrics 29 (1987) 393; from memory).
func TestRunRulesWaitAsLongAsPublished(t *testing.T) {
	c, phi := changes(t), distuv.UnitNormal.CDF
	for shift, want := range map[float64]float64{0: c.Length.Steady, 1: c.Length.Shifted} {
		if got := 1 / (phi(-3-shift) + phi(-3+shift)); math.Abs(got/want-1) > 1e-6 {
			t.Errorf("shift %g: %g by the distribution, %g published", shift, got, want)
		}
	}
	in := phi(1) - phi(-1)
	western := []trend.RunRule{trend.BeyondThree, trend.TwoBeyondTwo, trend.FourBeyondOne, trend.EightOneSide}
	for _, w := range []struct {
		what  string
		rules []trend.RunRule
		shift float64
		want  float64
	}{
		{"beyond three", western[:1], 0, c.Length.Steady}, {"beyond three, shifted", western[:1], 1, c.Length.Shifted},
		{"nine on one side", []trend.RunRule{trend.NineOneSide}, 0, 511}, {"eight on one side", western[3:], 0, 255},
		{"fifteen within", []trend.RunRule{trend.FifteenWithin}, 0, (1 - math.Pow(in, 15)) / ((1 - in) * math.Pow(in, 15))},
		{"Western Electric", western, 0, 91.75},
	} {
		r, n := rand.New(rand.NewPCG(3, 14)), trials(800)
		var lengths trend.Moments
		for range n {
			lengths.Add(float64(waits(r, w.rules, w.shift)))
		}
		if se := lengths.SD() / math.Sqrt(float64(n)); math.Abs(lengths.Mean()-w.want) > 4*se {
			t.Errorf("%s: simulated %.2f ± %.2f, want %.2f", w.what, lengths.Mean(), se, w.want)
		}
	}
}

func waits(r *rand.Rand, rules []trend.RunRule, shift float64) int {
	chart := trend.Runs{SD: 1}
	for n := 1; ; n++ {
		broken := chart.Add(r.NormFloat64() + shift)
		for _, rule := range rules {
			if broken[rule] {
				return n
			}
		}
	}
}

// The stated chance that steady blocks break one or another, at the fewest and at
// the most of them.
func TestRunRulesByLuck(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 92))
	for _, blocks := range []int{20, 40, 60} {
		hit, n := 0, trials(1600)
		var stated float64
		for range n {
			y := make([]float64, blocks)
			for i := range y {
				y[i] = 5 + 0.001*r.NormFloat64()
			}
			s := trend.ShiftOf(y)
			if stated = s.ByLuck; len(s.Runs) > 0 {
				hit++
			}
		}
		p := float64(hit) / float64(n)
		t.Logf("%d blocks: %.1f %%, stated %.1f %%", blocks, 100*p, 100*stated)
		if math.Abs(p-stated) > 4*chance(stated, n)+0.01 {
			t.Errorf("%d blocks: %.3f of them, stated %.3f", blocks, p, stated)
		}
	}
}

// A chart does not care where it lies and how wide it is, nor for what came before
// the points that a rule looks at.
func TestRunRulesProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shift, scale := rapid.Float64Range(-12, 12).Draw(t, "shift"), math.Ldexp(1, rapid.IntRange(-8, 3).Draw(t, "scale"))
		z := rapid.SliceOfN(rapid.Map(rapid.IntRange(-35, 35), func(i int) float64 { return float64(i)/10 + 0.05 }), 1, 60).Draw(t, "z")
		a, b, late := trend.Runs{SD: 1}, trend.Runs{Target: shift, SD: scale}, trend.Runs{SD: 1}
		for i, v := range z {
			got := a.Add(v)
			// Alternation and a way up or down hang on equal neighbours' last bits.
			moved := b.Add(shift + scale*v)
			for _, rule := range []trend.RunRule{trend.BeyondThree, trend.TwoBeyondTwo, trend.FourBeyondOne, trend.NineOneSide, trend.FifteenWithin} {
				if got[rule] != moved[rule] {
					t.Fatalf("point %d, %s: %v and moved %v", i+1, rule, got[rule], moved[rule])
				}
			}
			if i >= len(z)-15 { // only the newest fifteen
				if last := late.Add(v); i == len(z)-1 && len(z) >= 15 && last != got {
					t.Fatalf("%v after all, %v after the last fifteen", got, last)
				}
			}
		}
	})
}
