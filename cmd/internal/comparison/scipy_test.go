package comparison

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
	"steadyrail/rules/trend"
	"steadyrail/rules/uncertainty"
)

// compared is one figure of ours and the question that SciPy answers.
type compared struct {
	f     string
	args  []any
	ours  []float64
	close float64 // how far they may part, relative to the larger of 1e-6 and the answer
}

// TestAgainstSciPy holds what is written by hand against SciPy (BSD licence,
// Debian package python3-scipy): exact Poisson and binomial bounds, Student's
// t, tolerance shares, the convolved distribution of an error, the chance to see
// a dip by simulation, slopes.
func TestAgainstSciPy(t *testing.T) {
	var all []compared
	for _, list := range [][]compared{exactBounds(), quantiles(), errorsConvolved(), dipsSeen(), slopes(), measured(t), trends(), bounds(), toleranceFactors(t)} {
		all = append(all, list...)
	}
	for i, theirs := range askSciPy(t, all) {
		a := all[i]
		if len(theirs) != len(a.ours) {
			t.Errorf("%s%v: %d answers, want %d", a.f, a.args, len(theirs), len(a.ours))
			continue
		}
		for k := range theirs {
			if math.Abs(theirs[k]-a.ours[k]) > a.close*max(1e-6, math.Abs(theirs[k])) {
				t.Errorf("%s%v: ours %.12g, SciPy's %.12g", a.f, a.args, a.ours[k], theirs[k])
			}
		}
	}
	t.Logf("%d figures compared", len(all))
}

// askSciPy runs the script once for all questions.
func askSciPy(t *testing.T, all []compared) (out [][]float64) {
	t.Helper()
	const python = "/usr/bin/python3" // Debian's own, which has Debian's packages
	if err := exec.Command(python, "-c", "import scipy").Run(); err != nil {
		if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
			t.Fatalf("SciPy is missing: install the package python3-scipy (%v)", err)
		}
		t.Skip("SKIPPED: SciPy is missing; install the package python3-scipy to compare with it")
	}
	var questions []map[string]any
	for _, a := range all {
		questions = append(questions, map[string]any{"f": a.f, "args": a.args})
	}
	body, err := json.Marshal(questions)
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(python, filepath.Join("..", "..", "..", "testdata", "scipy", "answers.py"))
	var said bytes.Buffer
	c.Stdin, c.Stderr = bytes.NewReader(body), &said
	text, err := c.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, said.String())
	}
	var raw []json.RawMessage
	if err := json.Unmarshal(text, &raw); err != nil {
		t.Fatal(err)
	}
	if len(raw) != len(all) {
		t.Fatalf("%d answers to %d questions", len(raw), len(all))
	}
	for _, r := range raw {
		var one float64
		var many []float64
		if json.Unmarshal(r, &one) == nil {
			many = []float64{one}
		} else if err := json.Unmarshal(r, &many); err != nil {
			t.Fatal(fmt.Errorf("%s: %w", r, err))
		}
		out = append(out, many)
	}
	return out
}

// exactBounds of rates and shares: R's poisson.test and binom.test give the same
// (Garwood; Clopper and Pearson).
func exactBounds() (out []compared) {
	for _, c := range []float64{0.9, 0.95, 0.99} {
		for _, r := range []int{0, 1, 2, 3, 10, 100} {
			out = append(out,
				compared{"poisson_upper", []any{r, c}, []float64{coverage.UpperMean(r, c)}, 1e-7},
				compared{"poisson_lower", []any{r, c}, []float64{coverage.LowerMean(r, c)}, 1e-7})
		}
		for _, s := range [][2]int{{0, 10}, {0, 59}, {1, 20}, {3, 7}, {20, 20}, {5, 1000}} {
			low, high := coverage.ShareInterval(s[0], s[1], c)
			out = append(out,
				compared{"binomial_upper", []any{s[0], s[1], c}, []float64{coverage.UpperFailing(s[0], s[1], c)}, 1e-7},
				compared{"binomial_lower", []any{s[0], s[1], c}, []float64{coverage.LowerFailing(s[0], s[1], c)}, 1e-7},
				compared{"binomial_two_sided", []any{s[0], s[1], c}, []float64{low, high}, 1e-7})
		}
	}
	for _, s := range []struct {
		n     int
		share float64
	}{{92, 0.95}, {93, 0.95}, {473, 0.99}, {4742, 0.999}} {
		out = append(out, compared{"tolerance", []any{s.n, s.share}, []float64{coverage.ToleranceConfidence(s.n, s.share)}, 1e-9})
	}
	return out
}

func quantiles() (out []compared) {
	for _, v := range []float64{1, 2, 3, 8, 16, 19, 20, 60, 1000} { // the table below 20 has two decimals
		out = append(out, compared{"t_quantile", []any{(1 + 0.9544997) / 2, v}, []float64{uncertainty.CoverageFactor(v)}, 0.0024})
	}
	for _, v := range []float64{10, 12.6, 32, 200} { // by Wilson and Hilferty: 0.6 %
		low, high := uncertainty.DeviationFactors(v)
		out = append(out, compared{"spread_factors", []any{v}, []float64{low, high}, 0.006})
	}
	return out
}

// errorsConvolved: a meter's limit with scatter, around and beyond both edges.
func errorsConvolved() (out []compared) {
	b := capture.Bounds{Low: 4.9, High: 5.1}
	for _, y := range []float64{4.85, 4.895, 4.91, 5.0, 5.08, 5.1, 5.125} {
		for _, s := range [][2]float64{{0.045, 0.002}, {0.045, 0.02}, {0.005, 0.03}} {
			got := uncertainty.Spread{Limits: [3]float64{s[0]}, Normal: s[1]}.Conforms(y, b)
			out = append(out, compared{"rect_normal", []any{y, s[0], s[1], b.Low, b.High}, []float64{got}, 1e-6})
		}
	}
	return out
}

// dipsSeen: a million dips at random moments, so that the answers part by less
// than five standard errors, 0.0025.
func dipsSeen() (out []compared) {
	for _, d := range []struct{ dip, aperture, period, depth float64 }{
		{50, 20, 200, 1}, {50, 20, 200, 0.3}, {50, 380, 400, 1}, {100, 380, 400, 0.5}, {10, 20, 200, 1}, {100, 20, 200, 0.5}, {190, 20, 200, 1},
	} {
		ms := func(v float64) time.Duration { return time.Duration(v * float64(time.Millisecond)) }
		p := coverage.Chance(ms(d.dip), ms(d.aperture), ms(d.period), d.depth, 0.2)
		out = append(out, compared{"seen", []any{d.dip, d.aperture, d.period, d.depth, 0.2, 1_000_000}, []float64{p}, 0.0025 / max(1e-6, p)})
	}
	return out
}

func slopes() (out []compared) {
	rng := rand.New(rand.NewPCG(3, 11))
	for _, n := range []int{8, 21, 120} {
		x, y := make([]float64, n), make([]float64, n)
		for i := range x {
			x[i] = float64(i)
			y[i] = 5 + 0.003*x[i] + 0.05*rng.NormFloat64()
		}
		slope, low, high, _ := trend.TheilSen(x, y)
		line, _ := trend.FitLine(x, y)
		out = append(out,
			compared{"theil_sen", []any{x, y, 0.95}, []float64{slope, low, high}, 1e-9},
			compared{"line", []any{x, y}, []float64{line.Intercept, line.Slope, line.SDAtZero, line.SDSlope}, 1e-8})
	}
	return out
}

// trends: the test of Mann and Kendall with the variance of Hamed and Rao, of which
// no package is a standard: the script has the published equations in numpy.
// Independent, correlated, trending and tied series.
func trends() (out []compared) {
	rng := rand.New(rand.NewPCG(5, 23))
	for _, c := range []struct{ n, phi, slope, digit float64 }{{30, 0, 0, 0}, {60, 0.6, 0, 0}, {60, 0.9, 0.01, 0}, {87, 0.3, 0.02, 0.5}, {57, -0.6, 0, 0}} {
		y := make([]float64, int(c.n))
		noise := rng.NormFloat64()
		for i := range y {
			y[i] = 5 + c.slope*float64(i) + noise
			if c.digit > 0 {
				y[i] = math.Round(y[i]/c.digit) * c.digit
			}
			noise = c.phi*noise + rng.NormFloat64()
		}
		k := trend.MannKendallCorrelated(y)
		out = append(out, compared{"hamed_rao", []any{y}, []float64{k.S, k.TauB, k.SD, k.Z, k.P}, 1e-9})
	}
	return out
}

// bounds: how well the end of a warm-up can be known at all, in the table that
// forbids a forecast below two time constants (see rules/trend).
func bounds() (out []compared) {
	for _, c := range []struct{ window, bound, digit float64 }{{0.5, 108, 0.5}, {1, 27, 0.5}, {1.5, 12.6, 0.05}, {2, 7.4, 0.05}, {3, 3.7, 0.05}} {
		out = append(out, compared{"exponential_bound", []any{c.window}, []float64{c.bound}, 2 * c.digit / c.bound})
	}
	return out
}
