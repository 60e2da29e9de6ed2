package trend_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"steadyrail/rules/trend"
)

// The worked table of Montgomery, example 9.1: signal at reading 29, begun seven
// readings before.
func TestCusumAgainstMontgomery(t *testing.T) {
	c := trend.Cusum{Target: 10, Slack: 0.5, Limit: 5}
	first := 0
	for i, row := range reference(t, "statistics/montgomery_cusum.csv") {
		s := c.Add(number(t, row[1]))
		if math.Abs(s.High-number(t, row[2])) > 1e-9 || math.Abs(s.Low-number(t, row[4])) > 1e-9 {
			t.Errorf("reading %d: sums %.4f and %.4f, want %s and %s", i+1, s.High, s.Low, row[2], row[4])
		}
		if s.RunHigh != int(number(t, row[3])) || s.RunLow != int(number(t, row[5])) {
			t.Errorf("reading %d: runs %d and %d, want %s and %s", i+1, s.RunHigh, s.RunLow, row[3], row[5])
		}
		if s.Upwards != (row[6] == "1") || s.Downward != (row[7] == "1") {
			t.Errorf("reading %d: signals %v, %v", i+1, s.Upwards, s.Downward)
		}
		if s.Upwards && first == 0 {
			first = i + 1
		}
	}
	if want := charts(t).Montgomery.Cusum; first != want {
		t.Errorf("first signal at reading %d, want %d", first, want)
	}
}

// published is statistics/charts.json.
type published struct {
	Head struct {
		Values       []float64
		Slack, Limit float64
		Cases        []struct {
			Head float64 `json:"head_start"`
			Sums []float64
			At   int `json:"signals_at"`
		}
	} `json:"head_start"`
	Montgomery struct {
		Cusum int `json:"cusum_first_signal"`
		Ewma  int `json:"ewma_first_signal"`
	}
	Handbook struct{ Target, SD, Weight, High, Low float64 }
}

func charts(t testing.TB) (p published) {
	t.Helper()
	fromJSON(t, "statistics/charts.json", &p)
	return p
}

// Lucas and Crosier 1982, table 5: the head start of 2.5 signals at the third
// reading, without it the seventh does.
func TestCusumHeadStart(t *testing.T) {
	file := charts(t).Head
	if len(file.Cases) != 2 {
		t.Fatalf("%d cases in the file", len(file.Cases))
	}
	for _, c := range file.Cases {
		sum, first := trend.Cusum{Slack: file.Slack, Limit: file.Limit, HeadStart: c.Head}, 0
		for i, v := range file.Values {
			s := sum.Add(v)
			if math.Abs(s.High-c.Sums[i]) > 1e-9 {
				t.Errorf("head start %g, reading %d: %g, want %g", c.Head, i+1, s.High, c.Sums[i])
			}
			if s.Upwards && first == 0 {
				first = i + 1
			}
		}
		if first != c.At {
			t.Errorf("head start %g: signal at %d, want %d", c.Head, first, c.At)
		}
	}
}

// runLength is the mean number of readings to a signal of one sum, by a Markov
// chain of n states (Brook and Evans, Biometrika 59 (1972) 539).
func runLength(h, k, shift float64, n int) float64 {
	a, ones, width := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil), 2*h/float64(2*n-1)
	phi := distuv.UnitNormal.CDF
	for i := range n {
		ones.SetVec(i, 1)
		for j := range n {
			step := float64(j-i)*width + k - shift
			p := phi(step + width/2)
			if j > 0 {
				p -= phi(step - width/2)
			}
			a.Set(i, j, -p)
		}
		a.Set(i, i, a.At(i, i)+1)
	}
	var out mat.VecDense
	if err := out.SolveVec(a, ones); err != nil {
		return math.NaN()
	}
	return out.AtVec(0)
}

// The average run lengths of a chain and, where they are short enough, of this
// package's own sums over random readings: within four standard errors.
func TestCusumRunLengths(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	rows := reference(t, "statistics/cusum_arl.csv")
	if len(rows) != 20 {
		t.Fatalf("%d rows", len(rows))
	}
	for _, row := range rows {
		h, k, shift := number(t, row[0]), number(t, row[1]), number(t, row[2])
		up, down := runLength(h, k, shift, 100), runLength(h, k, -shift, 100)
		both := 1 / (1/up + 1/down)
		if math.Abs(up/number(t, row[4])-1) > 2e-3 || math.Abs(both/number(t, row[5])-1) > 2e-3 {
			t.Errorf("h %g, shift %g: %.3f and %.3f, want %s and %s", h, shift, up, both, row[4], row[5])
		}
		// Printed with three digits.
		if math.Abs(both/number(t, row[3])-1) > 6e-3 {
			t.Errorf("h %g, shift %g: %.3f, printed %s", h, shift, both, row[3])
		}
		if testing.Short() && both > 20 {
			continue
		}
		var lengths trend.Moments
		for range 600 {
			lengths.Add(float64(simulateRun(r, h, k, shift)))
		}
		if se := lengths.SD() / math.Sqrt(600); math.Abs(lengths.Mean()-both) > 4*se {
			t.Errorf("h %g, shift %g: simulated %.3f ± %.3f, chain %.3f", h, shift, lengths.Mean(), se, both)
		}
	}
}

func simulateRun(r *rand.Rand, h, k, shift float64) int {
	c := trend.Cusum{Slack: k, Limit: h}
	for n := 1; ; n++ {
		if s := c.Add(shift + r.NormFloat64()); s.Upwards || s.Downward {
			return n
		}
	}
}

func TestEwmaAgainstMontgomery(t *testing.T) {
	e, first := trend.Ewma{Target: 10, SD: 1, Weight: 0.1, Width: 2.7}, 0
	for i, row := range reference(t, "statistics/montgomery_ewma.csv") {
		s := e.Add(number(t, row[1]))
		for j, got := range []float64{s.Average, s.Low, s.High} {
			if want := number(t, row[2+j]); math.Abs(got-want) > 1e-6 {
				t.Errorf("reading %d, column %d: %.7f, want %.7f", i+1, j, got, want)
			}
		}
		if s.Beyond != (row[5] == "1") {
			t.Errorf("reading %d: beyond %v", i+1, s.Beyond)
		}
		if s.Beyond && first == 0 {
			first = i + 1
		}
	}
	if want := charts(t).Montgomery.Ewma; first != want {
		t.Errorf("first beyond at reading %d, want %d", first, want)
	}
}

func TestEwmaAgainstTheHandbook(t *testing.T) {
	h := charts(t).Handbook
	e := trend.Ewma{Target: h.Target, SD: h.SD, Weight: h.Weight, Width: 3}
	if math.Abs(h.Target+e.HalfWidth()-h.High) > 1e-4 || math.Abs(h.Target-e.HalfWidth()-h.Low) > 1.1e-4 {
		t.Errorf("half width %g", e.HalfWidth())
	}
	for i, row := range reference(t, "statistics/nist_handbook_ewma.csv") {
		s := e.Add(number(t, row[0]))
		if math.Abs(s.Average-number(t, row[1])) > 1e-6 || math.Abs(s.Average-number(t, row[2])) > 0.0051 {
			t.Errorf("reading %d: %.7f, want %s", i+1, s.Average, row[1])
		}
	}
}

// Moved and stretched readings with a moved and stretched chart say the same.
func TestChartsAreEquivariant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shift, scale := rapid.Float64Range(-12, 12).Draw(t, "shift"), rapid.Float64Range(0.01, 10).Draw(t, "scale")
		c, moved := trend.Cusum{Slack: 0.5, Limit: 5}, trend.Cusum{Target: shift, Slack: scale / 2, Limit: 5 * scale}
		e, movedE := trend.Ewma{SD: 1, Weight: 0.2, Width: 3}, trend.Ewma{Target: shift, SD: scale, Weight: 0.2, Width: 3}
		for _, v := range rapid.SliceOf(rapid.Float64Range(-4, 4)).Draw(t, "values") {
			a, b := c.Add(v), moved.Add(shift+scale*v)
			if math.Abs(b.High-scale*a.High) > 1e-9*(1+scale) || math.Abs(b.Low-scale*a.Low) > 1e-9*(1+scale) {
				t.Fatalf("%+v and %+v", a, b)
			}
			x, y := e.Add(v), movedE.Add(shift+scale*v)
			if math.Abs(y.Average-shift-scale*x.Average) > 1e-9 || math.Abs(y.High-shift-scale*x.High) > 1e-9 {
				t.Fatalf("%+v and %+v", x, y)
			}
		}
	})
}

func BenchmarkCharts(b *testing.B) {
	values := numbers(b, "Lottery")
	b.Run("cusum", func(b *testing.B) {
		c := trend.Cusum{Target: 500, Slack: 150, Limit: 1500}
		perReading(b, values, func(v float64) { sink = c.Add(v).High })
	})
	b.Run("ewma", func(b *testing.B) {
		e := trend.Ewma{Target: 500, SD: 300, Weight: 0.1, Width: 2.7}
		perReading(b, values, func(v float64) { sink = e.Add(v).Average })
	})
}

// perReading runs add once an iteration, so that ns/op and allocs/op are those
// of a reading.
func perReading(b *testing.B, values []float64, add func(v float64)) {
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		add(values[i])
		if i++; i == len(values) {
			i = 0
		}
	}
}
